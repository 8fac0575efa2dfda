"""The certificates of a melt, with every element against its limit."""

from collections.abc import Sequence
from typing import Any, ClassVar

from inventory.calc.certificates import CertificateType, ElementResult
from inventory.calc.certificates import Finding as ElementFinding
from inventory.calc.grade_limits import PPM_PER_PERCENT
from inventory.models import Certificate, Melt
from inventory.queries import findings, papers, trace
from inventory.services import certificates
from inventory.services.certificates import TypedCertificate
from shop.api import fields, filed, paging, shapes
from shop.api.grades import LIMIT, TAG, limit_shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid, NotFound

TYPES = tuple(one.value for one in CertificateType if one is not CertificateType.NOT_SAID)
MOST_FIGURES = 40

ELEMENT = shapes.thing(
    element=shapes.TEXT,
    printed=shapes.TEXT,
    finding=shapes.words(*(one.value for one in ElementFinding)),
    **LIMIT,
    off_ppm=shapes.maybe(shapes.TEXT),
    words=shapes.TEXT,
)
CERTIFICATE = shapes.thing(
    id=shapes.WHOLE,
    melt=shapes.thing(
        id=shapes.WHOLE,
        heat_number=shapes.TEXT,
        mill=shapes.TEXT,
        grade=shapes.TEXT,
        certificate_awaited=shapes.YES_NO,
    ),
    delivery=shapes.maybe(shapes.WHOLE),
    number=shapes.TEXT,
    issued_on=shapes.maybe(shapes.DAY),
    type=shapes.maybe(shapes.words(*TYPES)),
    document=shapes.TEXT,
    edition=shapes.TEXT,
    as_ordered=shapes.TEXT,
    read_by=shapes.TEXT,
    note=shapes.TEXT,
    finding=shapes.words(*Certificate.Finding.values),
    finding_now=shapes.maybe(shapes.TEXT),
    words=shapes.TEXT,
    elements=shapes.many(ELEMENT),
    file=shapes.maybe(shapes.thing(name=shapes.TEXT, sha256=shapes.TEXT)),
    filed_at=shapes.MOMENT,
    taken_back_at=shapes.maybe(shapes.MOMENT),
    taken_back_why=shapes.TEXT,
)
_CARBON = {"least_ppm": 4300, "most_ppm": 5000, "least_percent": "0.43", "most_percent": "0.50"}
EXAMPLE = {
    "id": 17,
    "melt": {
        "id": 9,
        "heat_number": "0A7731",
        "mill": "Example Mill",
        "grade": "1045",
        "certificate_awaited": False,
    },
    "delivery": None,
    "number": "C-1",
    "issued_on": "2026-02-20",
    "type": "3.1",
    "document": "Invented document",
    "edition": "16",
    "as_ordered": "",
    "read_by": "HE",
    "note": "",
    "finding": "outside the limits",
    "finding_now": "outside the limits",
    "words": "Certificate C-1: outside the limits. C “0.52” is 0.02 % above the most, 0.50 %.",
    "elements": [
        {
            "element": "C",
            "printed": "0.52",
            "finding": "fail",
            **_CARBON,
            "off_ppm": "200",
            "words": "C “0.52” is 0.02 % above the most, 0.50 %.",
        }
    ],
    "file": None,
    "filed_at": "2026-03-02T09:00:00Z",
    "taken_back_at": None,
    "taken_back_why": "",
}


class FigureBody(fields.Body):
    """One figure of the heat analysis."""

    element = fields.Text(longest=24, help_text="Its symbol, or its English name.")
    printed = fields.Text(
        longest=24, help_text="As printed, percent of the mass unless it says ppm: 0.46, <0.01, 35 ppm."
    )


class CertificateBody(fields.Body):
    """A certificate as it was read; its paper is added to it afterwards."""

    number = fields.Text(longest=60, required=False)
    issued_on = fields.Day(required=False)
    type = fields.Word(choices=list(TYPES), required=False, help_text="By EN 10204, where the paper says so.")
    document = fields.Text(longest=60, required=False, help_text="The document that the paper names.")
    edition = fields.Text(longest=40, required=False, help_text="Its edition; without it, not stated.")
    as_ordered = fields.Text(
        longest=certificates.MOST_AGREED,
        required=False,
        help_text="Limits agreed on the order, which go before the document's: C .95-1.05 Si .15-.35.",
    )
    figures = fields.many(FigureBody, MOST_FIGURES, required=False)
    read_by = fields.Text(longest=8, required=False, help_text="Initials; without figures: read and within limits.")
    note = fields.Text(longest=300, required=False)


def shown(made: Certificate) -> dict[str, Any]:
    """Return a certificate as the API shows it; its elements against the grade book as it stands."""
    melt, check = made.melt, findings.check_of(made, made.melt)
    return {
        "id": made.pk,
        "melt": {
            "id": melt.pk,
            "heat_number": melt.heat_number,
            "mill": melt.mill,
            "grade": melt.grade.code,
            "certificate_awaited": melt.certificate_awaited,
        },
        "delivery": made.delivery.number if made.delivery else None,
        "number": made.number,
        "issued_on": fields.day(made.issued_on),
        "type": made.paper_type or None,
        "document": made.document,
        "edition": made.edition,
        "as_ordered": made.as_ordered,
        "read_by": made.read_by,
        "note": made.note,
        "finding": made.finding,
        "finding_now": check.verdict.value if check else None,
        "words": findings.paper_found(made, melt).words,
        "elements": [_element_shown(one) for one in (*check.elements, *check.others)] if check else [],
        "file": {"name": made.file_name, "sha256": filed.sha256(made.file)} if made.file else None,
        "filed_at": fields.moment(made.filed_at),
        "taken_back_at": fields.moment(made.withdrawn_at),
        "taken_back_why": papers.why_taken_back(made),
    }


def _element_shown(one: ElementResult) -> dict[str, Any]:
    limit = one.limit
    off = None if one.off_percent is None else one.off_percent * PPM_PER_PERCENT
    return {
        "element": one.element,
        "printed": one.printed,
        "finding": one.finding.value,
        **limit_shown(one.element, limit.least_ppm if limit else None, limit.most_ppm if limit else None),
        "off_ppm": None if off is None else f"{off.normalize():f}",
        "words": one.why,
    }


class MeltCertificates(Endpoint):
    """The certificates of one melt."""

    operations: ClassVar = {
        "GET": Operation(
            name="listCertificates",
            summary="List the certificates of a melt",
            tag=TAG,
            words="Certificates in the order they were filed, those taken back too. The last that stands counts.",
            query=paging.PARAMETERS,
            replies={
                200: Reply(
                    "One page of certificates.", shapes.page(CERTIFICATE), {"rows": [EXAMPLE], "next": None}, ("Link",)
                )
            },
            snapshot=True,
        ),
        "POST": Operation(
            name="fileCertificate",
            summary="File a certificate with a melt",
            tag=TAG,
            words=(
                "Figures are compared with the limits of the document and edition named, and with no other; an element"
                " that is left out is not reported, never a pass. The melt's certificate is awaited no more."
            ),
            body=CertificateBody,
            example={
                "number": "C-1",
                "document": "ASTM A29/A29M",
                "edition": "16",
                "figures": [{"element": "C", "printed": "0.46"}, {"element": "P", "printed": ".011"}],
                "read_by": "HE",
            },
            replies={201: Reply("The certificate.", CERTIFICATE, EXAMPLE, ("Location",))},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        page = paging.page(papers.of_melt(find_melt(call)), call.request, dict(call.query), by="pk")
        return reply({"rows": [shown(made) for made in page.rows], "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """File it."""
        melt, body = find_melt(call), dict(call.body)
        figures = _figures(body.pop("figures", ()))
        typed = TypedCertificate(paper_type=body.pop("type", ""), figures=figures, **body)
        try:
            made = certificates.file(melt, typed, at=call.at, by=call.actor)
        except Invalid as refusal:
            names = {"paper_type": "type", "file": "figures"}
            refusal.fields = {names.get(name, name): said for name, said in refusal.fields.items()}
            raise
        whole = papers.certificates().get(pk=made.pk)
        return reply_created(reply(shown(whole)), f"/api/v1/certificates/{made.pk}")


class OneCertificate(Endpoint):
    """One certificate."""

    operations: ClassVar = {
        "GET": Operation(
            name="readCertificate",
            summary="Read one certificate",
            tag=TAG,
            words=(
                "A certificate: what was found when it was filed, and every element against the grade book as it stands."
            ),
            replies={200: Reply("The certificate.", CERTIFICATE, EXAMPLE)},
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(find_certificate(call)))


def find_certificate(call: Call) -> Certificate:
    """Return the certificate of the address."""
    found = papers.certificate(call.path["id"])
    if found is None:
        raise NotFound(f"There is no certificate {call.path['id']}; read the list of those of its melt.")
    return found


def find_melt(call: Call) -> Melt:
    """Return the melt of the address."""
    found = trace.find_melt(call.path["id"])
    if found is None:
        raise NotFound(f"There is no melt {call.path['id']}; read the list of melts.")
    return found


def _figures(typed: Sequence[dict[str, str]]) -> dict[str, str]:
    figures: dict[str, str] = {}
    for at, one in enumerate(typed):
        if one["element"] in figures:
            raise Invalid.field(
                f"figures.{at}.element", f"{one['element']} stands twice; send the one of the heat analysis."
            )
        figures[one["element"]] = one["printed"]
    return figures

"""The certificates of a melt, with every element against its limit."""

from collections.abc import Sequence
from typing import ClassVar

from inventory.queries import papers
from inventory.services import certificates
from inventory.services.certificates import TypedCertificate
from shop.api import fields, paging, shapes
from shop.api.grades import TAG
from shop.api.papers_shown import CERTIFICATE, EXAMPLE, TYPES, find_certificate, find_melt, shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid

MOST_FIGURES = 40


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


def _figures(typed: Sequence[dict[str, str]]) -> dict[str, str]:
    figures: dict[str, str] = {}
    for at, one in enumerate(typed):
        if one["element"] in figures:
            raise Invalid.field(
                f"figures.{at}.element", f"{one['element']} stands twice; send the one of the heat analysis."
            )
        figures[one["element"]] = one["printed"]
    return figures

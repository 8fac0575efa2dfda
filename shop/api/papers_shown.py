"""How a certificate looks in the API, with every element against its limit, and how it and its melt are found."""

from typing import Any

from inventory.calc.certificates import CertificateType, ElementResult
from inventory.calc.certificates import Finding as ElementFinding
from inventory.calc.grade_limits import PPM_PER_PERCENT
from inventory.models import Certificate, Melt
from inventory.queries import findings, papers, trace
from shop.api import fields, filed, shapes
from shop.api.grades import LIMIT, limit_shown
from shop.api.operation import Call
from shop.shared.errors import NotFound

TYPES = tuple(one.value for one in CertificateType if one is not CertificateType.NOT_SAID)

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

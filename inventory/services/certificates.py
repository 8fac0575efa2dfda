"""Mill certificates: filed with a melt, read against the grade book, awaited, withdrawn where they belong elsewhere."""

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from inventory.calc import certificates as calc
from inventory.calc.certificates import CertificateCheck, Verdict
from inventory.calc.grade_limits import limits
from inventory.models import Certificate, Delivery, Melt
from inventory.queries import grade_book
from shop.access.actor import Actor
from shop.shared import audit, files, transactions
from shop.shared.errors import Invalid, Refusal
from shop.shared.files import Kept

Finding = Certificate.Finding
_FINDINGS = {
    Verdict.PASS: Finding.PASS,
    Verdict.INCOMPLETE: Finding.INCOMPLETE,
    Verdict.UNCLEAR: Finding.UNCLEAR,
    Verdict.FAIL: Finding.FAIL,
    Verdict.NO_LIMITS: Finding.NO_LIMITS,
}
GOOD = (Finding.PASS, Finding.BY_EYE)
MOST_AGREED = 120  # characters of the column
_A_DAY = dt.timedelta(days=1)  # the shop may lie ahead of UTC
_INITIALS = re.compile(r"[^\W\d_]{1,8}")


class PaperThere(Refusal):
    """The certificate takes no paper: it has one already, or was taken back."""

    code = "paper_there"


class NoKnownMelt(Refusal):
    """The steel's melt is not known, so no certificate can be its own."""

    code = "melt_unknown"


@dataclass(frozen=True, slots=True)
class TypedCertificate:
    """What was typed from a certificate; figures by element as printed. `read_by` are initials for "within limits".

    `as_ordered` are limits agreed on the order, as the tables print them: carbon of a W1 by its suffix, silicon.
    """

    number: str = ""
    issued_on: dt.date | None = None
    paper_type: str = ""
    document: str = ""
    edition: str = ""
    as_ordered: str = ""
    figures: Mapping[str, str] = field(default_factory=dict)
    read_by: str = ""
    note: str = ""


def check(melt: Melt, typed: TypedCertificate) -> CertificateCheck | None:
    """Compare the figures with the limits of the document and edition named; nothing where no figure was typed."""
    figures = {element: printed for element, printed in typed.figures.items() if printed.strip()}
    if not figures:
        return None
    return calc.check(
        figures,
        grade_book.limits_of(melt.grade, as_ordered=_agreed(typed)),
        grade=melt.grade.code,
        document=typed.document,
        edition=typed.edition,
    )


def _agreed(typed: TypedCertificate) -> str:
    """Return the limits agreed on the order, or refuse what cannot be read as such."""
    agreed = " ".join(typed.as_ordered.replace("–", "-").split())
    try:
        elements = [limit.element for limit in limits(agreed)]
    except (ValueError, ArithmeticError):
        elements = [""]
    if "" in elements or len(set(elements)) != len(elements) or len(agreed) > MOST_AGREED:
        raise Invalid.field(
            "as_ordered",
            "As ordered: write symbol and percent in turn, such as C .95-1.05 Si .15-.35; each element once.",
        )
    return agreed


def file(
    melt: Melt,
    typed: TypedCertificate,
    *,
    at: dt.datetime,
    by: Actor,
    paper: Kept | None = None,
    delivery: Delivery | None = None,
) -> Certificate:
    """File a certificate with its melt; from then on it is awaited no more."""
    transactions.assert_open()
    if not melt.known:
        raise NoKnownMelt("The mill heat is unknown; say which it is first, then the certificate can be filed with it.")
    initials = typed.read_by.strip()
    if initials and not _INITIALS.fullmatch(initials):
        raise Invalid.field("read_by", "Read by: write initials, up to eight letters.")
    if typed.paper_type not in ("", "2.1", "2.2", "3.1", "3.2"):
        raise Invalid.field("paper_type", "Type: 2.1, 2.2, 3.1 or 3.2 as the paper says, or leave it empty.")
    if typed.issued_on and typed.issued_on > at.date() + _A_DAY:
        raise Invalid.field("issued_on", "Date: this day has not come yet; look at the year.")
    found = check(melt, typed)
    if found is None and not paper and not initials and not typed.number.strip():
        raise Invalid.field("file", "Certificate: choose the paper, write its figures, or say who read it.")
    made = Certificate.objects.create(
        melt=melt,
        delivery=delivery,
        number=typed.number.strip()[:60],
        issued_on=typed.issued_on,
        paper_type=typed.paper_type,
        document=typed.document.strip()[:60],
        edition=typed.edition.strip()[:40],
        as_ordered=_agreed(typed),
        figures={element: printed.strip() for element, printed in typed.figures.items() if printed.strip()},
        finding=_finding(found, initials),
        read_by=initials.upper(),
        file=paper.kept_as if paper else "",
        file_name=paper.name if paper else "",
        note=typed.note.strip()[:300],
        filed_at=at,
        filed_by=by.person,
    )
    if paper:
        files.keep(paper)
    Melt.objects.filter(pk=melt.pk).update(certificate_awaited=False)
    audit.write(
        at=at,
        by=by.label,
        action="certificate filed",
        subject=f"melt {melt.pk}",
        after={"certificate": made.pk, "number": made.number, "finding": made.finding, "file": made.file},
    )
    return made


def add_paper(certificate: Certificate, paper: Kept, *, at: dt.datetime, by: Actor) -> None:
    """Keep the paper of a certificate that was filed by its figures; what was found of it stays as it was."""
    transactions.assert_open()
    without = Certificate.objects.filter(pk=certificate.pk, file="", withdrawn_at=None)
    if without.update(file=paper.kept_as, file_name=paper.name) != 1:
        raise PaperThere("This certificate has its paper already or was taken back; file another with the mill heat.")
    files.keep(paper)
    audit.write(
        at=at,
        by=by.label,
        action="certificate paper kept",
        subject=f"melt {certificate.melt_id}",
        after={"certificate": certificate.pk, "file": paper.kept_as},
    )


def _finding(found: CertificateCheck | None, initials: str) -> str:
    if found is not None:
        return _FINDINGS[found.verdict]
    return Finding.BY_EYE if initials else Finding.NOT_READ


def withdraw(certificate: Certificate, *, at: dt.datetime, by: Actor, reason: str, awaited: bool = False) -> None:
    """Take a certificate back that belongs to other steel; the row and the file stay for whoever asks later.

    `awaited` says that the melt's own certificate is still to come.
    """
    transactions.assert_open()
    if not reason.strip():
        raise Invalid.field("reason", "Why: say what is wrong with this certificate.")
    rows = Certificate.objects.filter(pk=certificate.pk, withdrawn_at=None).update(withdrawn_at=at)
    if rows != 1:
        raise Invalid.field("reason", "This certificate was taken back already; look at what is filed with the melt.")
    audit.write(
        at=at,
        by=by.label,
        action="certificate taken back",
        subject=f"melt {certificate.melt_id}",
        before={"certificate": certificate.pk, "finding": certificate.finding},
        reason=reason,
    )
    if awaited:
        wait_for(certificate.melt, awaited=True, at=at, by=by)


def wait_for(melt: Melt, *, awaited: bool, at: dt.datetime, by: Actor) -> None:
    """Say that the certificate of a melt is still to come, or that none will."""
    transactions.assert_open()
    if melt.known and Melt.objects.filter(pk=melt.pk).exclude(certificate_awaited=awaited).update(
        certificate_awaited=awaited
    ):
        audit.write(
            at=at,
            by=by.label,
            action="certificate awaited" if awaited else "certificate not awaited",
            subject=f"melt {melt.pk}",
        )


def standing(melt: Melt) -> Certificate | None:
    """Return the newest certificate of a melt that was not taken back."""
    return Certificate.objects.filter(melt=melt, withdrawn_at=None).order_by("-id").first()


def names_file(kept_as: str) -> bool:
    """Return whether a certificate names a kept file."""
    return Certificate.objects.filter(file=kept_as).exists()

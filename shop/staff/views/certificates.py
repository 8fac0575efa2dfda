"""Mill certificates: filed with a mill heat, read against the grade book, awaited, taken back."""

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.calc.certificates import CertificateCheck, CertificateType
from inventory.calc.certificates import Finding as Element
from inventory.calc.grade_limits import NOT_STATED, Limit, percent_text
from inventory.models import Certificate, LimitRow, Melt
from inventory.queries import findings, grade_book, papers, trace
from inventory.services import certificates
from shop.access.roles import DESK, reaches
from shop.shared import files, shop_row
from shop.staff import handing_out, posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.certificate_forms import AwaitForm, CertificateForm, TakeBackForm
from shop.staff.views.counter_history import link
from shop.staff.views.rack import ROOM


def file(request: HttpRequest, number: int) -> HttpResponse:
    """File a certificate with a mill heat; the paper alone will do, its figures can be typed from it."""
    here, melt = posting.here_of(request), trace.find_melt(number)
    if melt is None:
        return posting.not_there(here)
    rows = list(grade_book.rows_of(melt.grade))
    form = CertificateForm(*posting.sent(here), rows=rows, shop=shop_row.the_shop())
    valid = here.method == "POST" and form.is_valid()

    def act(who: posting.Doing) -> tuple[str, str]:
        made = certificates.file(melt, form.typed(), at=who.at, by=who.by, paper=form.cleaned_data["file"])
        found = findings.paper_found(made, melt)
        return reverse("staff:certificate", args=[made.pk]), found.words

    with files.only_if_booked(form.cleaned_data.get("file") if valid else None, certificates.names_file):
        if valid:
            done = posting.book(here, form, act)
            if done:
                return done
        facts = {
            "melt": melt,
            "filed": listed(melt),
            "limits": _kept(rows),
            "desk": reaches(here.acting_role, DESK),
        }
        return posting.sheet(here, "staff/rack/certificate_file.html", ROOM, facts, form=form)


def _kept(rows: Sequence[LimitRow]) -> Ruled:
    """Return the limits of each row in one line, to read a paper by."""
    columns = [Column("document and edition"), Column("limits, % of the mass")]
    lines = [[str(row), format_html_join(" · ", '<span class="nb">{}</span>', _each(row))] for row in rows]
    return Ruled("Limits kept", columns, lines)


def _each(row: LimitRow) -> list[tuple[str]]:
    elements = sorted(row.elements.all(), key=lambda one: one.place)
    return [(f"{one.element} {_limit(Limit(one.element, one.least_ppm, one.most_ppm), '')}",) for one in elements]


def wait_for(request: HttpRequest, number: int) -> HttpResponse:
    """Say that a certificate is still to come, or that none will."""
    here, melt = posting.here_of(request), trace.find_melt(number)
    if melt is None:
        return posting.not_there(here)
    begun = {"awaited": "no" if melt.certificate_awaited else "yes"}
    form = AwaitForm(here.POST if here.method == "POST" else None, initial=begun, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        awaited = form.cleaned_data["awaited"] == "yes"
        certificates.wait_for(melt, awaited=awaited, at=who.at, by=who.by)
        return _to(melt), "It is written down."

    lead = f"Mill heat {melt.heat_number}, {melt.grade}."
    asked = Ask("Certificate awaited", lead, "Write it down", _to(melt), "Back to the mill heat", room=ROOM, part="Say")
    return ask(here, form, asked, act)


def certificate(request: HttpRequest, number: int) -> HttpResponse:
    """Show a certificate: what it is, every element against its limit, the paper."""
    here, found = posting.here_of(request), papers.certificate(number)
    if found is None:
        return posting.not_there(here)
    check = findings.check_of(found, found.melt)
    facts = {
        "certificate": found,
        "said": findings.paper_found(found, found.melt),
        "table": _table(check) if check and (check.elements or check.others) else None,
        "check": check,
        "now": check.verdict.value if check and check.verdict.value != found.finding else "",
        "why_back": papers.why_taken_back(found),
        "type_words": CertificateType(found.paper_type).words if found.paper_type else "",
        "failed": found.finding == Certificate.Finding.FAIL and found.withdrawn_at is None,
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/rack/certificate.html", ROOM, facts)


def _table(check: CertificateCheck) -> Ruled:
    columns = [
        Column("element"),
        Column("printed", figures=True),
        Column("limit"),
        Column("it is"),
        Column("why"),
    ]
    rows = [
        [
            one.element,
            one.printed or "–",
            _unbroken(_limit(one.limit)),
            one.finding.value,
            one.why.replace(" %", "\u00a0%"),
        ]
        for one in (*check.elements, *check.others)
        if one.finding is not Element.NOT_OF_GRADE or one.printed
    ]
    against = f"{check.document or 'no document named'}, edition {check.edition or NOT_STATED}"
    return Ruled(f"Figures of the heat analysis against {against}", columns, rows)


def _unbroken(text: str) -> SafeString:
    return format_html('<span class="nb">{}</span>', text)


def _limit(limit: Limit | None, unit: str = " %") -> str:
    if limit is None:
        return ""
    least = percent_text(limit.element, limit.least_ppm) if limit.least_ppm is not None else None
    most = percent_text(limit.element, limit.most_ppm) if limit.most_ppm is not None else None
    if least is not None and most is not None:
        return f"{least} to {most}{unit}"
    return f"at most {most}{unit}" if most is not None else f"at least {least}{unit}"


def paper(request: HttpRequest, number: int) -> HttpResponse:
    """Hand out the paper."""
    here, found = posting.here_of(request), papers.certificate(number)
    if found is None or not found.file:
        return posting.not_there(here)
    return handing_out.kept_file(here, found.file, found.file_name, f"the paper of certificate {found.pk}")


def take_back(request: HttpRequest, number: int) -> HttpResponse:
    """Take a certificate back that belongs to other steel."""
    here, found = posting.here_of(request), papers.certificate(number)
    if found is None:
        return posting.not_there(here)
    form = TakeBackForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        certificates.withdraw(found, at=who.at, by=who.by, reason=typed["reason"], awaited=typed["awaited"])
        return _to(found.melt), "The certificate is taken back; the paper stays for whoever asks."

    lead = f"Mill heat {found.melt.heat_number}. What was sawn on the strength of it is not touched."
    back = reverse("staff:certificate", args=[found.pk])
    asked = Ask(
        "Take the certificate back", lead, "Take it back", back, "Back to the certificate", room=ROOM, part="Why"
    )
    return ask(here, form, asked, act)


def _to(melt: Melt) -> str:
    return reverse("staff:book_melt", args=[melt.pk])


def listed(melt: Melt) -> Ruled:
    """Return the certificates of a melt as a table, the newest first."""
    columns = [Column("certificate"), Column("filed"), Column("against"), Column("it is")]
    zone = shop_row.the_shop().zone
    rows = []
    for one in papers.of_melt(melt):
        name = link("staff:certificate", one.number or f"paper {one.pk}", one.pk)
        against = f"{one.document}, edition {one.edition or NOT_STATED}" if one.document else ""
        state = "taken back" if one.withdrawn_at else one.finding
        rows.append([name, wording.at_moment(one.filed_at, zone), against, state])
    return Ruled("Certificates", columns, rows)

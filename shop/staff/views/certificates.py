"""Mill certificates: filed with a mill heat, read against the grade book, awaited, taken back."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.calc.certificates import CertificateCheck
from inventory.calc.certificates import Finding as Element
from inventory.calc.grade_limits import Limit, percent_text
from inventory.models import Certificate, LimitRow, Melt
from inventory.queries import findings, grade_book, trace
from inventory.services import certificates
from inventory.services.certificates import TypedCertificate
from shop.access.roles import DESK, reaches
from shop.shared import files, shop_row
from shop.staff import handing_out, posting
from shop.staff.fields import Day, SlipForm, Words
from shop.staff.file_field import FileField
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link
from shop.staff.views.rack import ROOM

_TYPES = [("", "not stated"), ("2.1", "2.1"), ("2.2", "2.2"), ("3.1", "3.1"), ("3.2", "3.2")]
OTHER = "other"


class CertificateForm(SlipForm):
    """The paper, who read it, and its figures where somebody types them."""

    read_by = Words(longest=8, label="Read and within limits: initials", required=False, help_text="the quick way")
    number = Words(longest=60, label="Certificate number", required=False)
    issued_on = Day(label="Its date", required=False)
    paper_type = forms.ChoiceField(label="Type by EN 10204", choices=_TYPES, required=False)
    against = forms.ChoiceField(label="Document and edition it names", choices=[], required=False)
    document = Words(longest=60, label="Another document", required=False)
    edition = Words(longest=40, label="Its edition", required=False)
    note = Words(longest=300, label="Note", required=False)

    def __init__(self, *args: Any, rows: Sequence[LimitRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"] = FileField("Paper")
        known = [(str(row.pk), str(row)) for row in rows]
        self.fields["against"].choices = [("", "not said"), *known, (OTHER, "another one")]  # type: ignore[attr-defined]
        self.named = {str(row.pk): row for row in rows}
        self.elements = list(
            dict.fromkeys(one.element for row in rows for one in sorted(row.elements.all(), key=lambda e: e.place))
        )
        for element in self.elements:
            self.fields[f"el_{element}"] = Words(
                longest=24, label=f"{element} %", required=False, attrs={"inputmode": "decimal"}
            )
        self.order_fields(["file", "read_by", "number", "issued_on", "paper_type"])
        self.tune()

    def paper_fields(self) -> list[forms.BoundField]:
        """Return the fields of the paper itself."""
        return [bound for bound in self if not bound.name.startswith("el_") and bound.name != "note"]

    def figure_fields(self) -> list[forms.BoundField]:
        """Return a field for each of the grade's own elements, in the document's order."""
        return [self[f"el_{element}"] for element in self.elements]

    def typed(self) -> TypedCertificate:
        """Return what was typed."""
        said = self.cleaned_data
        row = self.named.get(said["against"])
        return TypedCertificate(
            number=said["number"],
            issued_on=said["issued_on"],
            paper_type=said["paper_type"],
            document=row.document if row else said["document"],
            edition=row.edition if row else said["edition"],
            figures={element: said[f"el_{element}"] for element in self.elements if said[f"el_{element}"]},
            read_by=said["read_by"],
            note=said["note"],
        )


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
            "certificates": _filed(melt),
            "no_limits": not rows,
            "desk": reaches(here.acting_role, DESK),
        }
        return posting.sheet(here, "staff/rack/certificate_file.html", ROOM, facts, form=form)


def _filed(melt: Melt) -> list[Certificate]:
    return list(Certificate.objects.filter(melt=melt).order_by("-id"))


class AwaitForm(SlipForm):
    """Whether a certificate is to come."""

    awaited = forms.ChoiceField(label="The certificate", choices=[("yes", "is to come"), ("no", "is not to come")])


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
    here, found = posting.here_of(request), _find(number)
    if found is None:
        return posting.not_there(here)
    check = findings.check_of(found, found.melt)
    facts = {
        "certificate": found,
        "said": findings.paper_found(found, found.melt),
        "table": _table(check) if check else None,
        "check": check,
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/rack/certificate.html", ROOM, facts)


def _table(check: CertificateCheck) -> Ruled:
    columns = [Column("element"), Column("printed", figures=True), Column("limit"), Column("it is"), Column("")]
    rows = [
        [one.element, one.printed or "–", _limit(one.limit), one.finding.value, one.why]
        for one in (*check.elements, *check.others)
        if one.finding is not Element.NOT_OF_GRADE or one.printed
    ]
    return Ruled(f"{check.document or 'No document named'}, edition {check.edition or 'not stated'}", columns, rows)


def _limit(limit: Limit | None) -> str:
    if limit is None:
        return ""
    least = percent_text(limit.element, limit.least_ppm) if limit.least_ppm is not None else None
    most = percent_text(limit.element, limit.most_ppm) if limit.most_ppm is not None else None
    if least is not None and most is not None:
        return f"{least} to {most} %"
    return f"at most {most} %" if most is not None else f"at least {least} %"


def paper(request: HttpRequest, number: int) -> HttpResponse:
    """Hand out the paper."""
    here, found = posting.here_of(request), _find(number)
    if found is None or not found.file:
        return posting.not_there(here)
    return handing_out.kept_file(here, found.file, found.file_name, f"the paper of certificate {found.pk}")


class WhyForm(SlipForm):
    """Why."""

    reason = Words(longest=300, label="Why")


def take_back(request: HttpRequest, number: int) -> HttpResponse:
    """Take a certificate back that belongs to other steel."""
    here, found = posting.here_of(request), _find(number)
    if found is None:
        return posting.not_there(here)
    form = WhyForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        certificates.withdraw(found, at=who.at, by=who.by, reason=form.cleaned_data["reason"])
        return _to(found.melt), "The certificate is taken back; the paper stays for whoever asks."

    lead = f"Mill heat {found.melt.heat_number}. What was sawn on the strength of it is not touched."
    back = reverse("staff:certificate", args=[found.pk])
    asked = Ask(
        "Take the certificate back", lead, "Take it back", back, "Back to the certificate", room=ROOM, part="Why"
    )
    return ask(here, form, asked, act)


def _find(number: int) -> Certificate | None:
    return Certificate.objects.select_related("melt__grade", "filed_by", "delivery").filter(pk=number).first()


def _to(melt: Melt) -> str:
    return reverse("staff:book_melt", args=[melt.pk])


def listed(melt: Melt) -> Ruled:
    """Return the certificates of a melt as a table."""
    columns = [Column("certificate"), Column("filed"), Column("it is")]
    rows = []
    for one in _filed(melt):
        name = link("staff:certificate", one.number or f"paper {one.pk}", one.pk)
        state = "taken back" if one.withdrawn_at else one.finding
        rows.append([name, f"{one.filed_at:%Y-%m-%d}", state])
    return Ruled("Certificates", columns, rows)

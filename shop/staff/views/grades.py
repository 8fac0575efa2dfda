"""The grade book: what each document and edition allows, densities, and published figures of tempering."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.calc import hardness_seed
from inventory.models import Grade
from inventory.queries import grade_book
from inventory.services import grade_book as book
from inventory.services.grade_book import TypedRow
from shop.access.roles import DESK, reaches
from shop.shared import shop_row
from shop.shared.errors import NotFound
from shop.staff import posting
from shop.staff.fields import SlipForm, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link
from shop.staff.views.rack import ROOM

_UG_PER_G = 1_000_000


class RowForm(SlipForm):
    """A row of limits."""

    document = Words(longest=60, label="Document", help_text="ASTM A29/A29M")
    edition = Words(longest=40, label="Edition", required=False, help_text="as printed; empty: not stated")
    limits = Words(longest=400, label="Limits", help_text="C .43-.50 Mn .60-.90 P .040 S .050, in the table's order")
    source = Words(longest=300, label="Source", help_text="where the figures were read")
    note = Words(longest=400, label="Note", required=False)


class DensityForm(SlipForm):
    """A density."""

    density = Words(longest=20, label="Density, g/cm³", attrs={"inputmode": "decimal"})
    source = Words(longest=200, label="Source", required=False)


def grades(request: HttpRequest) -> HttpResponse:
    """List the grades with their densities and how many rows of limits are kept."""
    here = posting.here_of(request)
    columns = [Column("grade"), Column("density, g/cm³", figures=True), Column("limits of"), Column("")]
    rows = [
        [
            link("staff:grade", grade.code, grade.pk),
            f"{grade.density_ug_per_cm3 / _UG_PER_G:.3f}".rstrip("0"),
            "; ".join(str(row) for row in grade.limit_rows.all()) or "none kept",
            grade.note,
        ]
        for grade in grade_book.grades()
    ]
    return posting.sheet(here, "staff/rack/grades.html", ROOM, {"table": Ruled("Grades", columns, rows)})


def grade(request: HttpRequest, number: int) -> HttpResponse:
    """Show a grade: its limits by document and edition, its density, published figures of tempering."""
    here, found = posting.here_of(request), grade_book.grade(number)
    if found is None:
        return posting.not_there(here)
    facts = {
        "grade": found,
        "density": f"{found.density_ug_per_cm3 / _UG_PER_G:g}",
        "rows": list(grade_book.rows_of(found)),
        "limits": _limits(found),
        "tempers": _tempers(found),
        "soaks": [one for one in hardness_seed.SOAKS if one.grade == found.code],
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/rack/grade.html", ROOM, facts)


def _limits(found: Grade) -> Ruled:
    columns = [Column("document"), Column("edition"), Column("limits, %"), Column("seen in"), Column("note")]
    rows = [
        [row.document, row.edition, grade_book.as_typed(row), f"{row.source} ({row.standing})", row.note]
        for row in grade_book.rows_of(found)
    ]
    return Ruled("Limits of the heat analysis", columns, rows)


def _tempers(found: Grade) -> Ruled:
    columns = [Column("tempered at"), Column("it was", figures=True), Column("trial"), Column("source")]
    rows = [
        [
            "as quenched" if one.temper is None else f"{one.temper} °{one.degrees}",
            f"{one.least}" if one.least == one.most else f"{one.least} to {one.most}",
            f"{one.scale.value}{', ' + one.trial if one.trial else ''}",
            one.source,
        ]
        for one in hardness_seed.TEMPER_POINTS
        if one.grade == found.code
    ]
    return Ruled("Tempering as published", columns, rows)


def row_new(request: HttpRequest, number: int) -> HttpResponse:
    """Write a row of limits."""
    here, found = posting.here_of(request), grade_book.grade(number)
    if found is None:
        return posting.not_there(here)
    form = RowForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        made = book.save_row(found, TypedRow(**form.cleaned_data), at=who.at, by=who.by)
        return _to(found), f"Limits of {made} are kept."

    return ask(here, form, _asked(found, "Limits", "Copy them from the document you have.", "Keep the limits"), act)


def row_change(request: HttpRequest, number: int) -> HttpResponse:
    """Change a row of limits."""
    here = posting.here_of(request)
    try:
        row = book.find_row(number)
    except NotFound:
        return posting.not_there(here)
    begun = {
        "document": row.document,
        "edition": row.edition,
        "limits": grade_book.as_typed(row),
        "source": row.source,
        "note": row.note,
    }
    form = RowForm(here.POST if here.method == "POST" else None, initial=begun, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        made = book.save_row(row.grade, TypedRow(**form.cleaned_data), row=row, at=who.at, by=who.by)
        return _to(row.grade), f"Limits of {made} are changed; what was found of certificates before stays as it was."

    return ask(here, form, _asked(row.grade, "Change limits", f"{row}.", "Change them"), act)


class DropForm(SlipForm):
    """Nothing to fill in."""


def row_drop(request: HttpRequest, number: int) -> HttpResponse:
    """Take a row of limits out of the grade book."""
    here = posting.here_of(request)
    try:
        row = book.find_row(number)
    except NotFound:
        return posting.not_there(here)
    form = DropForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        book.drop_row(row, at=who.at, by=who.by)
        return _to(row.grade), "The row is out of the grade book."

    lead = f"{row}: {grade_book.as_typed(row)}. No certificate is judged by it any more."
    return ask(here, form, _asked(row.grade, "Drop limits", lead, "Drop the row"), act)


def density(request: HttpRequest, number: int) -> HttpResponse:
    """Change a grade's density."""
    here, found = posting.here_of(request), grade_book.grade(number)
    if found is None:
        return posting.not_there(here)
    begun = {"density": f"{found.density_ug_per_cm3 / _UG_PER_G:g}", "source": found.density_source}
    form = DensityForm(here.POST if here.method == "POST" else None, initial=begun, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        book.set_density(found, typed["density"], typed["source"], at=who.at, by=who.by)
        return _to(found), "Weights worked out from now on use it."

    return ask(here, form, _asked(found, "Density", "Bar-weight tables use 7.85.", "Change it"), act)


def _to(found: Grade) -> str:
    return reverse("staff:grade", args=[found.pk])


def _asked(found: Grade, title: str, lead: str, do: str) -> Ask:
    return Ask(f"{title}: {found.code}", lead, do, _to(found), f"Back to {found.code}", room=ROOM, part=title)

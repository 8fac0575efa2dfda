"""The grade book: what each document and edition allows, densities, and published figures of tempering."""

from decimal import Decimal

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.calc import hardness_seed
from inventory.calc.grade_limits import percent_text
from inventory.calc.hardness_seed import Soak, TemperPoint
from inventory.models import Grade, LimitRow
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
    carried = forms.BooleanField(label="Partly carried over from another list", required=False)


class DensityForm(SlipForm):
    """A density."""

    density = Words(longest=20, label="Density, g/cm³", attrs={"inputmode": "decimal"})
    source = Words(longest=200, label="Source", help_text="where it was read, or how it was measured")


def grades(request: HttpRequest) -> HttpResponse:
    """List the grades with their densities and the rows of limits that are kept, each with its source."""
    here = posting.here_of(request)
    columns = [Column("grade"), Column("limits of"), Column("density, g/cm³", figures=True), Column("density from")]
    rows = [
        [
            link("staff:grade", grade.code, grade.pk),
            "; ".join(str(row) for row in _sorted(grade)) or "none kept: certificates are read by eye",
            _density(grade),
            grade.density_source or grade.note,
        ]
        for grade in grade_book.grades()
    ]
    facts = {"table": Ruled("Grades", columns, rows), "tools": _tools()}
    return posting.sheet(here, "staff/rack/grades.html", ROOM, facts)


def _sorted(grade: Grade) -> list[LimitRow]:
    return sorted(grade.limit_rows.all(), key=lambda row: (row.document, row.edition, row.pk))


def _density(grade: Grade) -> str:
    """Write a density with two decimals or as many as it needs."""
    whole = Decimal(grade.density_ug_per_cm3) / _UG_PER_G
    return max(f"{whole:.2f}", f"{whole.normalize():f}", key=len)


def _tools() -> Ruled:
    columns = [Column("part of a tool"), Column("HRC", figures=True), Column("document"), Column("seen in")]
    rows = [
        [
            one.part,
            f"to {one.most_hrc}" if one.least_hrc is None else f"{one.least_hrc} to {one.most_hrc}",
            one.document,
            one.source,
        ]
        for one in hardness_seed.TOOL_HARDNESS
    ]
    return Ruled("Hardness of tools as published", columns, rows)


def grade(request: HttpRequest, number: int) -> HttpResponse:
    """Show a grade: its limits by document and edition, its density, published figures of tempering."""
    here, found = posting.here_of(request), grade_book.grade(number)
    if found is None:
        return posting.not_there(here)
    facts = {
        "grade": found,
        "density": _density(found),
        "rows": [(row, _limits(row)) for row in grade_book.rows_of(found)],
        "tempers": _tempers(found),
        "soaks": [(_soak(one), one.source) for one in hardness_seed.SOAKS if one.grade == found.code],
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/rack/grade.html", ROOM, facts)


def _limits(row: LimitRow) -> Ruled:
    """Return one row as its table prints it: the elements in the document's own order, side by side."""
    elements = sorted(row.elements.all(), key=lambda one: one.place)
    columns = [Column("%"), *(Column(one.element, figures=True) for one in elements)]
    least = ["" if one.least_ppm is None else percent_text(one.element, one.least_ppm) for one in elements]
    most = ["" if one.most_ppm is None else percent_text(one.element, one.most_ppm) for one in elements]
    return Ruled(f"Limits of the heat analysis, {row}", columns, [["least", *least], ["most", *most]])


def _tempers(found: Grade) -> Ruled:
    columns = [
        Column("tempered at"),
        Column("it was", figures=True),
        Column("piece and quench"),
        Column("published by"),
    ]
    rows = [
        [
            _temper(one),
            f"{one.least if one.least == one.most else f'{one.least} to {one.most}'} {one.scale.value}",
            one.trial or "not said",
            one.source,
        ]
        for one in hardness_seed.TEMPER_POINTS
        if one.grade == found.code
    ]
    return Ruled("Tempering as published", columns, rows)


def _temper(one: TemperPoint) -> str:
    """Write a temperature as printed and, worked out, in the other degrees."""
    if one.temper is None:
        return "as quenched"
    if one.degrees == "F":
        return f"{one.temper} °F ({round((one.temper - 32) / 1.8)} °C)"
    return f"{one.temper} °C ({round(one.temper * 1.8 + 32)} °F)"


def _soak(one: Soak) -> str:
    """Write how long a grade is tempered."""
    said = [f"{one.minutes_per_inch} minutes for each inch of thickness"]
    said += [f"{one.times} tempers"] if one.times > 1 else []
    said += [f"never under {one.least_minutes} minutes"] if one.least_minutes else []
    return f"{', '.join(said)}. {one.words}"


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
        "carried": row.standing == LimitRow.Standing.CARRIED,
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
    begun = {"density": _density(found), "source": found.density_source}
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

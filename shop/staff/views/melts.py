"""A mill heat: its balance, its certificates, its family, and whom to call when it is bad."""

from collections.abc import Sequence
from fractions import Fraction

from django.http import HttpRequest, HttpResponse

from inventory.calc.balance import Basis, figures
from inventory.models import Movement
from inventory.queries import balance, trace
from inventory.queries.balance import Stage, Weighed
from orders.queries import went_into
from shop.shared import csvs, units
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.counter_history import link


def stages_shown(stages: Sequence[Stage]) -> list[tuple[str, Ruled]]:
    """Return the balance of a melt as tables, one for each item."""
    return [(stage.item.name, _table(stage)) for stage in stages]


def _table(stage: Stage) -> Ruled:
    columns = [Column("what"), Column("how much", figures=True), Column("weight", figures=True), Column("known how")]
    rows = [[row.words, _qty(stage, row.qty), _mass(row.mass_mg), row.basis or "counted"] for row in stage.came]
    rows += [
        [f"– {row.words}", _qty(stage, row.qty), _mass(row.mass_mg), row.basis or "counted"] for row in stage.parts
    ]
    return Ruled(f"{stage.item.name}: what came, and where it is", columns, rows)


def _qty(stage: Stage, qty: int) -> str:
    return units.both(qty) if stage.item.kind == "bar" else wording.figures(qty)


def _mass(mg: int | None) -> str:
    """Print a mass to a tenth: what was worked out of a weight in whole pounds is known no better."""
    if mg is None:
        return "not known"
    kilograms, pounds = (figures(mg, Fraction(unit) / 10, unit) for unit in (units.MG_PER_KG, units.MG_PER_LB))
    return f"{units.mass_kg(mg, figures=kilograms)} ({units.mass_lb(mg, figures=pounds)})"


def whole_shown(stages: Sequence[Stage]) -> Ruled | None:
    """Return the whole melt as one sheet by mass, or nothing where no mass is known."""
    sheet = balance.whole(stages)
    if sheet is None:
        return None
    columns = [Column("what"), Column("weight", figures=True), Column("known how")]
    came = {row.basis for stage in stages for row in stage.came if row.mass_mg and row.words != balance.SAWN}
    known = came.pop() if len(came) == 1 else Basis.MIXED
    rows = [[row.words, _mass(row.mass_mg), row.basis] for row in sheet.rows]
    return Ruled("Where the steel is", columns, rows, total=["received", _mass(sheet.received_mg), known])


def scale_said(found: Weighed | None) -> str:
    """Say how far the scale was off what was worked out, no finer than scale and tape allow."""
    if found is None:
        return "Nothing of it was weighed."
    step = units.mass_lb(found.step_mg, figures=2)
    sure = units.mass_lb(found.off.sure_to_mg, figures=2)
    scale = (
        f"{units.mass_lb(found.scale_mg)} on the scale, {units.mass_lb(found.computed_mg)} worked out from the taped"
        " lengths at nominal size"
    )
    doubt = f"A scale in steps of {step} and the tape leave {sure} open."
    if not found.off.shows:
        return f"{scale}: no difference that could be told. {doubt}"
    off = abs(found.off.off_mg)
    shown = units.mass_lb(off, figures=found.off.figures(units.MG_PER_LB))
    side = "more" if found.off.off_mg > 0 else "less"
    return f"{scale}: about {shown} {side} by the scale. {doubt} Bars of a good size may still differ so much."


def taken_shown(taken_out: Sequence[Movement]) -> Ruled | None:
    """Return who has pieces without an order, or nothing where nobody has."""
    if not taken_out:
        return None
    columns = [Column("taken out for"), Column("who"), Column("what"), Column("pieces", figures=True), Column("lot")]
    rows = []
    for line in taken_out:
        taken, lot = line.entry.take_out, line.lot
        number = link("staff:book_lot", lot.code, lot.pk)
        rows.append([taken.why, taken.for_whom, lot.item.name, wording.figures(line.qty), number])
    return Ruled("Taken out and not back", columns, rows)


def table(request: HttpRequest, number: int) -> HttpResponse:
    """Return who has pieces of a mill heat, as a table for a spreadsheet."""
    here, melt = posting.here_of(request), trace.find_melt(number)
    if melt is None:
        return posting.not_there(here)
    text = went_into.table(went_into.of_melt(melt), names=here.may.see_addresses)
    answer = HttpResponse(text, content_type=csvs.MEDIA_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="mill-heat-{melt.pk}-went-into.csv"'
    return answer

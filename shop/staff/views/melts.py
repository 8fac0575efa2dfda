"""A mill heat: its balance, its certificates, its family, and whom to call when it is bad."""

from django.http import HttpRequest, HttpResponse

from inventory.models import Melt
from inventory.queries import balance, trace
from inventory.queries.balance import Stage, Weighed
from orders.queries import book as order_book
from shop.shared import csvs, units
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled


def stages_shown(melt: Melt) -> list[tuple[str, Ruled]]:
    """Return the balance of a melt as tables, one for each item."""
    return [(stage.item.name, _table(stage)) for stage in balance.of_melt(melt) if stage.came_qty or stage.parts]


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
    return "not known" if mg is None else f"{units.mass_kg(mg)} ({units.mass_lb(mg)})"


def scale_said(found: Weighed | None) -> str:
    """Say how far the scale was off, no finer than it shows."""
    if found is None:
        return "Nothing of it was weighed."
    off = found.scale_mg - found.computed_mg
    scale = f"{units.mass_lb(found.scale_mg)} on the scale, {units.mass_lb(found.computed_mg)} worked out"
    if abs(off) <= found.step_mg:
        return f"{scale}: no difference that a scale in steps of {units.mass_lb(found.step_mg)} could show."
    steps = round(abs(off) / found.step_mg) if found.step_mg else abs(off)
    shown = units.mass_lb(steps * found.step_mg if found.step_mg else abs(off), figures=3)
    return f"{scale}: about {shown} {'more' if off > 0 else 'less'}, where the scale shows steps of {units.mass_lb(found.step_mg)}."


def went_into(request: HttpRequest, number: int) -> HttpResponse:
    """Return who has pieces of a mill heat, as a table for a spreadsheet."""
    here, melt = posting.here_of(request), trace.find_melt(number)
    if melt is None:
        return posting.not_there(here)
    starts = trace.lots_of_melt(melt)
    family = {*starts, *(step.child for step in trace.down(starts))}
    rows: list[list[csvs.Cell]] = []
    for one in order_book.shipped(family):
        shipment, customer = one.shipment_line.shipment, one.shipment_line.line.order.customer
        seen = [customer.email, customer.phone] if here.may.see_addresses else ["", ""]
        sent: list[csvs.Cell] = [
            melt.heat_number,
            shipment.order.number,
            shipment.sent_at,
            one.lot.item.name,
            one.lot.code,
            one.qty,
        ]
        rows.append([*sent, customer.name, *seen])
    heads = ("mill_heat", "order", "sent_at", "item", "lot", "pieces", "customer", "email", "phone")
    answer = HttpResponse(csvs.write(heads, rows), content_type=csvs.MEDIA_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="mill-heat-{melt.pk}-went-into.csv"'
    return answer

"""What came of a count sheet: what is counted, which lines were off and by how much, the dearest first."""

from collections.abc import Sequence

from inventory.models import Item, StockCount, StockCountLine
from inventory.queries import count_sheets as queries
from inventory.queries import prices
from shop.flows.night import words
from shop.shared import shop_row
from shop.shared import units as money_units
from shop.staff import wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.counter_history import link


def name_of(line: StockCountLine) -> str:
    """Name what a line is about; a bar by its number."""
    if line.lot is not None:
        return f"bar {line.lot.bar.number}, {line.item.name}"
    return line.item.name


def done_table(found: StockCount, lines: Sequence[StockCountLine]) -> Ruled:
    """Return what is counted, beside what the book had said."""
    columns = [Column("what"), Column("counted", figures=True), Column("book", figures=True), Column("by")]
    zone = shop_row.the_shop().zone
    rows = []
    for one in lines:
        name = name_of(one) if found.closed_at else link("staff:count_line", name_of(one), found.number, one.number)
        book = "the same" if one.counted == one.expected else wording.amount(one.item, one.expected or 0)
        at = wording.at_moment(one.counted_at, zone) if one.counted_at else ""
        rows.append([name, wording.amount(one.item, one.counted or 0), book, f"{one.counted_by}, {at}"])
    return Ruled("What is counted", columns, rows)


def _gap(one: StockCountLine) -> int:
    return (one.counted or 0) - (one.expected or 0)


def off_table(found: StockCount, *, costs: bool) -> Ruled:
    """Return the lines that were off by more than allowed, the dearest first; only what is counted shows the book."""
    rows = queries.off(found)
    worth = _worth(rows)
    currency = shop_row.the_shop().currency
    shown = []
    for one in sorted(rows, key=lambda one: (-worth[one.pk], -abs(_gap(one)), one.number)):
        gap = _gap(one)
        more, less = ("more", "fewer" if one.item.unit == Item.Unit.PIECE else "less")
        money = money_units.money(worth[one.pk], currency) if worth[one.pk] else ""
        shown.append([
            link("staff:item", name_of(one), one.item.code), wording.amount(one.item, one.expected or 0),
            wording.amount(one.item, one.counted or 0), f"{wording.amount(one.item, abs(gap))} {more if gap > 0 else less}",
            *([money] if costs else []), one.reason,
        ])  # fmt: skip
    columns = [
        Column("what"),
        Column("book", figures=True),
        Column("counted", figures=True),
        Column("off"),
        *([Column("worth")] if costs else []),
        Column("why"),
    ]
    return Ruled("Lines that were off", columns, shown)


def _worth(rows: Sequence[StockCountLine]) -> dict[int, int]:
    """Return what each line was off by in money, 0 where no cost is known."""
    unit = prices.unit_costs({one.item_id: one.item for one in rows})
    return {one.pk: round(abs(_gap(one)) * unit.get(one.item_id, 0.0)) for one in rows}


def sums_said(rows: Sequence[StockCountLine], *, costs: bool) -> str:
    """Say what was missing and what was too much, each by itself, so that the one does not hide the other."""
    fewer, more = [one for one in rows if _gap(one) < 0], [one for one in rows if _gap(one) > 0]
    said = f"{words.count(len(fewer), 'line')} short, {words.count(len(more), 'line')} over: the one makes up for no other."
    worth, currency = _worth(rows), shop_row.the_shop().currency
    if costs and any(worth.values()):
        for side, way in ((fewer, "are missing"), (more, "were not in the book")):
            total = sum(worth[one.pk] for one in side)
            said += f" Goods for {money_units.money(total, currency)} {way}." if total else ""
    return words.capital(said)

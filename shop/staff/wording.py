"""How pages say quantities, lines of an order and lines of the book."""

import datetime as dt
from collections.abc import Iterable, Sequence
from zoneinfo import ZoneInfo

from django.urls import NoReverseMatch, reverse
from django.utils.dateformat import format as written_as

from inventory.models import Entry, Item
from inventory.queries.movements import Moved, Written
from orders.models import Order, OrderLine, Return, Shipment
from shop.flows.night import words
from shop.shared import units

_IN = {
    Entry.Kind.MOVE_IN: "Moved in",
    Entry.Kind.RETURN: "Back from a customer",
    Entry.Kind.INSPECTION: "Inspected",
    Entry.Kind.USE: "Used",
    Entry.Kind.MOVE: "Moved",
    Entry.Kind.COUNT: "Counted",
    Entry.Kind.CORRECTION: "Put right",
    Entry.Kind.NOT_TO_BE_USED: "Not to be used",
    Entry.Kind.TAKE_OUT: "Taken out",
    Entry.Kind.TAKE_BACK: "Brought back",
    Entry.Kind.MADE_UP: "Made up",
    Entry.Kind.DELIVERY: "Delivered",
    Entry.Kind.SHIPMENT: "Sent",
    Entry.Kind.CUT: "Sawn",
    Entry.Kind.PAINT_LOST: "Paint lost",
    Entry.Kind.SENT_BACK: "Sent back",
    Entry.Kind.RUN_STARTED: "Run started",
    Entry.Kind.RUN_SPLIT: "Run parted",
    Entry.Kind.RUN_COUNT: "Run counted",
    Entry.Kind.OVEN: "Oven",
    Entry.Kind.HAFTED: "Hafted",
    Entry.Kind.SORTED: "Handles sorted",
}
KINDS = [(kind.value, _IN.get(kind, "Undone")) for kind in Entry.Kind]
_NAMES_SHOWN = 3
_ALL = 0.9995


def address(name: str, *args: object) -> str:
    """Return the address of a page, or nothing where this version has no such page."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def figures(number: int) -> str:
    """Write a whole number in groups of three."""
    return f"{number:,}".replace(",", "\u202f")


def amount(item: Item, qty: int) -> str:
    """Write a quantity in the item's own unit: pieces as a bare number, else length, weight or volume."""
    if item.unit == Item.Unit.NM:
        return units.as_taped(qty)
    if item.unit == Item.Unit.MG:
        return f"{units.mass_lb(qty)} ({units.mass_kg(qty)})"
    return units.volume(qty) if item.unit == Item.Unit.UL else figures(qty)


def counted(item: Item, qty: int, lots: int = 1) -> str:
    """Write so much of an item: 12 × cross peen 2 lb; 3 bars of 2 in round; 1.2 gal of oil."""
    if item.unit == Item.Unit.NM:
        return f"{lots} {'bar' if lots == 1 else 'bars'} of {item.name}, {amount(item, qty)}"
    if item.unit == Item.Unit.PIECE:
        return f"{amount(item, qty)} × {item.name}"
    return f"{amount(item, qty)} of {item.name}"


def line_name(line: OrderLine) -> str:
    """Write what a line of an order is for, and how it is wanted."""
    if line.item is None:
        return line.words
    return f"{line.item.name}, with {line.options}" if line.options else line.item.name


def of_hundred(ppm: int, *, wanted_ppm: int | None = None) -> str:
    """Write a chance: 92 times in 100; never as what was wanted where it is less."""
    wanted = None if wanted_ppm is None else wanted_ppm / 1_000_000
    return f"{in_hundred(ppm / 1_000_000, wanted=wanted)} times in 100"


def in_hundred(chance: float, *, wanted: float | None = None) -> int:
    """Round a chance to so many in a hundred; one that only comes near is neither all nor none, nor what was wanted."""
    if wanted is not None and chance < wanted:
        return min(in_hundred(chance), max(0, round(100 * wanted) - 1))
    if chance >= _ALL or chance <= 1 - _ALL:
        return round(100 * chance)
    return min(99, max(1, round(100 * chance)))


def what(lines: Sequence[OrderLine], *, owed_only: bool = False) -> str:
    """Write what an order is for: 12 × cross peen 2 lb, 2 × tongs and 3 more lines."""
    parts = []
    for line in lines:
        qty = line.ordered - line.cancelled - (line.shipped if owed_only else 0)
        if qty:
            name = line_name(line)
            parts.append(f"{figures(qty)} × {name if len(name) <= 60 else name[:57] + '…'}")
    more = len(parts) - _NAMES_SHOWN
    said = ", ".join(parts[:_NAMES_SHOWN])
    return f"{said} and {more} more {'line' if more == 1 else 'lines'}" if more > 0 else said or "nothing any more"


def stands(owed: int, set_aside: int, to_make: int, sent: int) -> str:
    """Say in words how far an order or a line is."""
    if owed == 0:
        return "all sent" if sent else "cancelled"
    said = [f"{figures(sent)} sent"] if sent else []
    if set_aside == owed:
        return ", ".join([*said, "all set aside" if not sent else "the rest set aside"])
    if set_aside:
        said.append(f"{figures(set_aside)} set aside")
    short = owed - set_aside - to_make
    if to_make:
        said.append(f"{figures(to_make)} made to order")
    if short:
        said.append(f"{figures(short)} still owed")
    return ", ".join(said)


def on_day(day: dt.date, *, seen: dt.date | None = None) -> str:
    """Write a day inside a sentence: Thu 17 Dec; with its year where it is far from the day it is seen on."""
    return words.day(day, seen=seen)


def window(order: Order) -> str:
    """Write the customer's window inside a sentence: not before Thu 3 Dec, not after Thu 17 Dec."""
    ends = (("not before", order.not_before), ("not after", order.not_after))
    return ", ".join(f"{said} {on_day(day)}" for said, day in ends if day is not None)


def at_moment(at: dt.datetime, zone: str) -> str:
    """Write a moment on the shop's wall: 25 Nov 10:42."""
    return written_as(at.astimezone(ZoneInfo(zone)), "j M H:i").replace(" ", "\u00a0")


def until(at: dt.datetime, zone: str) -> str:
    """Write the end of a time: 25 Nov 17:00; of a whole day its name."""
    if at.astimezone(ZoneInfo(zone)).time() == dt.time():
        return f"the end of {written_as((at - dt.timedelta(minutes=1)).astimezone(ZoneInfo(zone)), 'j M')}"
    return at_moment(at, zone)


def entry_line(line: Written, shipment: Shipment | None = None, returned: Return | None = None) -> str:
    """Write one entry of the book as a plain sentence."""
    kind = line.entry.kind
    if kind == Entry.Kind.REVERSAL:
        said = f"Line {figures(line.entry.reverses_id or 0)} undone: {_back(line.moved)}"
    elif kind == Entry.Kind.MADE_UP:
        said = _made_up("Made up", line.moved)
    elif kind in _ON_THE_FLOOR:
        said = _on_the_floor(line)
    else:
        said = f"{_begins(line, shipment, returned)}: {_moves(line.moved, kind)}"
    return f"{said}." + (f" {line.entry.reason}" if line.entry.reason else "")


def _begins(line: Written, shipment: Shipment | None, returned: Return | None) -> str:
    begins = _IN[Entry.Kind(line.entry.kind)]
    if shipment is not None:
        return f"Order {shipment.order.number} sent to {shipment.order.customer.name}"
    if returned is not None:
        order = returned.shipment_line.line.order
        return f"Back from {order.customer.name}, order {order.number}"
    if line.delivery is not None:
        return f"In at the door from {line.delivery.supplier.name}, delivery {line.delivery.number}"
    if line.take_out is not None:
        for_whom = f", {line.take_out.for_whom}" if line.take_out.for_whom else ""
        return f"Taken out for {_one(line.take_out.why)}{for_whom}"
    return begins


def _one(why: str) -> str:
    return why if why == "own tooling" else f"a {why}"


def _moves(moved: Iterable[Moved], kind: str) -> str:
    said = [f"{counted(m.item, m.qty, m.lots)}{_way(m, kind)}" for m in moved]
    if len(said) > _NAMES_SHOWN + 1:
        said = [*said[:_NAMES_SHOWN], f"{len(said) - _NAMES_SHOWN} more"]
    return "; ".join(said)


def _way(m: Moved, kind: str) -> str:
    """Say where from and where to, as far as the kind of entry does not say it already."""
    if kind in (Entry.Kind.SHIPMENT, Entry.Kind.USE, Entry.Kind.TAKE_OUT):
        return ""
    if kind == Entry.Kind.COUNT:
        return " more than written" if m.target.inside else " fewer than written"
    if m.source.inside and m.target.inside:
        return f" from {m.source.name} to {m.target.name}"
    return f" to {m.target.name}" if m.target.inside else f" from {m.source.name} to {m.target.name}"


_ON_THE_FLOOR = (
    Entry.Kind.RUN_STARTED, Entry.Kind.RUN_SPLIT, Entry.Kind.RUN_COUNT, Entry.Kind.OVEN, Entry.Kind.HAFTED,
)  # fmt: skip


def _on_the_floor(line: Written) -> str:
    """Say what happened to a run: its code, and what was counted or which load it was."""
    if line.count is not None and line.entry.kind == Entry.Kind.HAFTED:
        return _made_up(f"Run {line.count.run.code} hafted", line.moved)
    if line.count is not None:
        lost = [f"{figures(qty)} {name}" for qty, name in _fates(line)]
        counted = ", ".join([f"{figures(line.count.good)} good", *lost])
        return f"Run {line.count.run.code} at {line.count.step.name}: {counted}"
    heads = sum(m.qty for m in line.moved if m.target.inside)
    if line.load is not None:
        out = line.load.out_entry_id == line.entry.pk
        work = "hardened" if line.load.work == "harden" else "out of the temper" if out else "into the temper"
        return f"Load {line.load.number}, {work}: {figures(heads)} heads"
    begun = "started" if line.entry.kind == Entry.Kind.RUN_STARTED else "parted off"
    return f"Run {line.run} {begun}: {figures(heads)} heads"


def _fates(line: Written) -> list[tuple[int, str]]:
    count = line.count
    if count is None:
        return []
    named = [(count.scrap, "scrap"), (count.second, "seconds"), (count.rework, "to be worked over")]
    return [(qty, name) for qty, name in named if qty]


def _made_up(begins: str, moved: Sequence[Moved]) -> str:
    made = [counted(m.item, m.qty) for m in moved if m.target.inside]
    out_of = [counted(m.item, m.qty) for m in moved if m.source.inside]
    return f"{begins}: {', '.join(made)} out of {', '.join(out_of)}"


def _back(moved: Iterable[Moved]) -> str:
    return "; ".join(f"{counted(m.item, m.qty, m.lots)} back to {m.target.name}" for m in moved)

"""A book of families: melts whose bars became blanks, heads and tools that were sent, as many as are asked for.

Written in bulk and without checksums, because a million calls of the services would take the day. Eight bars a melt;
each gives a remnant, a lot of blanks, a lot of heads and three lots of tools, hafted with handles that many melts share.
"""

import datetime as dt
import itertools
import json
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from django.db import connection, transaction

from inventory.models import BAR_ALPHABET, Bar, Cut, Entry, Holding, Item, Lot, LotParent, Melt, Movement, Place
from inventory.queries import balance, trace
from inventory.queries.trace import Kin
from orders.models import Customer, Order, OrderLine, Shipment, ShipmentLine, ShippedLot
from orders.queries import book as order_book
from shop.shared import clock, shop_row
from tests import makers, plans

BARS = 8
TOOLS_A_BAR = 3
MOVEMENTS_A_MELT = BARS * 13
MELTS_AT_ONCE = 100
PIECES, PIECE_NM, KERF_NM = 12, 240_000_000, 1_587_500
KERFS_NM = PIECES * KERF_NM
BAR_NM = 6_000_000_000
REST_NM = BAR_NM - PIECES * PIECE_NM - KERFS_NM
SUBJECTS = 20
TIMES = 9
GROWING = {
    "inventory_lot", "inventory_lotparent", "inventory_movement", "inventory_entry", "inventory_holding",
    "inventory_bar", "inventory_cut", "orders_shippedlot",
}  # fmt: skip
BULK = 2_000
_numbers = itertools.count(len(BAR_ALPHABET))


@dataclass
class _Book:
    """What is written at once: entries with what they move, and the lots they make."""

    when: dt.datetime
    places: dict[str, Place]
    entries: list[Entry] = field(default_factory=list)
    lots: list[Lot] = field(default_factory=list)
    kin: list[LotParent] = field(default_factory=list)
    lines: list[Movement] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)

    def entry(self, kind: str) -> Entry:
        made = Entry(kind=kind, happened_at=self.when, booked_at=self.when, lines=0, seal=0)
        self.entries.append(made)
        return made

    def lot(self, code: str, item: Item, melt: Melt | None, entry: Entry, *parents: tuple[Lot, int]) -> Lot:
        made = Lot(code=code, item=item, melt=melt, entry=entry, born_at=self.when)
        self.lots.append(made)
        self.kin += [LotParent(child=made, parent=parent, quantity=qty) for parent, qty in parents]
        return made

    def bar(self, code: str, item: Item, melt: Melt, entry: Entry, parent: Bar | None = None) -> Bar:
        lot = self.lot(code, item, melt, entry, *([(parent.lot, REST_NM)] if parent else []))
        nm = REST_NM if parent else BAR_NM
        made = Bar(lot=lot, number=_number(next(_numbers)), section=item.section, length_nm=nm, typed="", parent=parent)
        self.bars.append(made)
        return made

    def move(self, entry: Entry, lot: Lot, qty: int, source: str, target: str) -> None:
        places = {"from_place": self.places[source], "to_place": self.places[target]}
        entry.lines += 1
        self.lines.append(Movement(entry=entry, line=entry.lines, item=lot.item, lot=lot, qty=qty, seal=0, **places))

    def write(self) -> None:
        kept = (self.entries, self.lots, self.kin, self.lines, self.bars, self.cuts)
        for rows in kept:
            type(rows[0]).objects.bulk_create(rows, batch_size=BULK)
        shelf = self.places["SHELF"]
        Holding.objects.bulk_create(
            [Holding(lot=lot, place=shelf, item=lot.item, on_hand=0) for lot in self.lots], batch_size=BULK
        )


def fill(movements: int) -> str:
    """Lengthen the book to about so many movements and return how many there are, as JSON."""
    at = clock.now()
    with transaction.atomic():
        shop_row.make(shop_row.Settings(name="Invented Forge"), at=at, by="bench")
    bar, blank = makers.make_item(Item.Kind.BAR), makers.make_item(Item.Kind.BLANK)
    tool, customer = makers.make_tool(), makers.make_customer()
    codes = ("SUPPLIER", "RACK", "WORKED-UP", "BIN", "SHELF", "CUSTOMER")
    places = {code: makers.place(code) for code in codes}
    melts = -(-movements // MOVEMENTS_A_MELT)
    with transaction.atomic():
        for first in range(0, melts, MELTS_AT_ONCE):
            book = _Book(at - dt.timedelta(days=3_000) + dt.timedelta(minutes=first), places)
            numbers = range(first, min(melts, first + MELTS_AT_ONCE))
            rows = [Melt(heat_number=f"0{n:06d}", mill="Invented Mill", grade=bar.grade) for n in numbers]
            came = book.entry("delivery")
            handles = book.lot(f"H{first}", tool.handle, None, came)
            book.move(came, handles, MELTS_AT_ONCE * BARS * TOOLS_A_BAR * 4, "SUPPLIER", "SHELF")
            sent = [
                _family(book, melt, (bar, blank, tool.head, tool.item), handles)
                for melt in Melt.objects.bulk_create(rows)
            ]
            book.write()
            _send(first, sent, customer, at)
    if connection.vendor == "postgresql":  # it does so by itself after a while; SQLite never does
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    return json.dumps({"movements": Movement.objects.count(), "steps": LotParent.objects.count()})


def _number(count: int) -> str:
    base, number = len(BAR_ALPHABET), ""
    while count:
        count, digit = divmod(count, base)
        number = BAR_ALPHABET[digit] + number
    return number


def _family(book: _Book, melt: Melt, items: Sequence[Item], handles: Lot) -> list[Lot]:
    came, out = book.entry("delivery"), book.entry("shipment")
    bars = [book.bar(f"B{melt.pk}-{n}", items[0], melt, came) for n in range(BARS)]
    for one in bars:
        book.move(came, one.lot, BAR_NM, "SUPPLIER", "RACK")
    sent = [tool for n, one in enumerate(bars) for tool in _worked_up(book, f"{melt.pk}-{n}", one, items, handles)]
    for one in sent:
        book.move(out, one, 4, "SHELF", "CUSTOMER")
    return sent


def _worked_up(book: _Book, name: str, bar: Bar, items: Sequence[Item], handles: Lot) -> list[Lot]:
    item, blank, head, tool = items
    melt = bar.lot.melt
    cut, forged, hafted = book.entry("cut"), book.entry("made up"), book.entry("made up")
    book.move(cut, bar.lot, BAR_NM - KERFS_NM, "RACK", "WORKED-UP")
    rest = book.bar(f"R{name}", item, melt, cut, bar)
    sawn = book.lot(f"S{name}", blank, melt, cut, (bar.lot, PIECES * PIECE_NM))
    book.move(cut, rest.lot, REST_NM, "WORKED-UP", "RACK")
    book.move(cut, sawn, PIECES, "WORKED-UP", "BIN")
    book.cuts.append(
        Cut(
            entry=cut, bar=bar, taken_nm=BAR_NM, blank=blank, pieces=PIECES, piece_nm=PIECE_NM,
            pieces_nm=PIECES * PIECE_NM, kerf_nm=KERF_NM, kerfs=PIECES, kerfs_nm=KERFS_NM, remnant_nm=REST_NM,
        )
    )  # fmt: skip
    heads = book.lot(f"F{name}", head, melt, forged, (sawn, PIECES))
    book.move(forged, sawn, PIECES, "BIN", "WORKED-UP")
    book.move(forged, heads, PIECES, "WORKED-UP", "SHELF")
    book.move(hafted, heads, PIECES, "SHELF", "WORKED-UP")
    tools = [book.lot(f"T{name}-{n}", tool, None, hafted, (heads, 4), (handles, 4)) for n in range(TOOLS_A_BAR)]
    for one in tools:
        book.move(hafted, one, 4, "WORKED-UP", "SHELF")
    return tools


def _send(first: int, sent: list[list[Lot]], customer: Customer, at: dt.datetime) -> None:
    """Send all tools of a melt for one order."""
    numbers = range(first + 1, first + 1 + len(sent))
    orders = Order.objects.bulk_create(
        [Order(number=n, customer=customer, taken_at=at, closed_at=at) for n in numbers], batch_size=BULK
    )
    tool = sent[0][0].item
    lines = OrderLine.objects.bulk_create(
        [
            OrderLine(order=order, number=1, item=tool, ordered=96, shipped=96, queue_no=order.number)
            for order in orders
        ],
        batch_size=BULK,
    )
    went = Shipment.objects.bulk_create(
        [Shipment(number=order.number, order=order, sent_at=at, ship_to="1 Invented Lane") for order in orders],
        batch_size=BULK,
    )
    parts = ShipmentLine.objects.bulk_create(
        [ShipmentLine(shipment=one, line=line, qty=96) for one, line in zip(went, lines, strict=True)], batch_size=BULK
    )
    rows = [
        ShippedLot(shipment_line=part, lot=lot, qty=4) for part, lots in zip(parts, sent, strict=True) for lot in lots
    ]
    ShippedLot.objects.bulk_create(rows, batch_size=BULK)


def of_melt(melt: Melt) -> list[Kin]:
    """Return the family of a melt."""
    return trace.down(trace.lots_of_melt(melt))


def of_lot(lot: Lot) -> list[Kin]:
    """Return the whole family of a lot: up to its roots."""
    return trace.up([lot.pk])


def subjects() -> dict[str, list[Callable[[], list[Kin]]]]:
    """Return families to look up, spread over the book: of melts, of tools upwards, of bars downwards."""
    spread = [number * Melt.objects.count() // SUBJECTS for number in range(SUBJECTS)]
    melts = [Melt.objects.select_related("grade").get(heat_number=f"0{n:06d}") for n in sorted(set(spread))]
    tools = [Lot.objects.get(code=f"T{melt.pk}-3-1") for melt in melts]
    bars = [Lot.objects.get(code=f"B{melt.pk}-5") for melt in melts]
    return {
        "a melt down to its tools": [lambda one=one: of_melt(one) for one in melts],
        "a tool up to its melt": [lambda one=one: of_lot(one) for one in tools],
        "a bar down to its tools": [lambda one=one: trace.down([one.pk]) for one in bars],
    }


def measure() -> str:
    """Return how many times as long each kind of family takes as one indexed read of as many rows, as JSON."""
    found = {}
    for name, families in subjects().items():
        rows = [_against_floor(family, number) for number, family in enumerate(families)]
        ratios = [took / floor for took, floor, _ in rows]
        found[name] = {
            "rows": statistics.median(count for _, _, count in rows),
            "ms": round(1_000 * statistics.median(took for took, _, _ in rows), 3),
            "floor_ms": round(1_000 * statistics.median(floor for _, floor, _ in rows), 3),
            "ratio": round(statistics.median(ratios), 2),
            "worst": round(max(ratios), 2),
        }
    return json.dumps(found)


def _against_floor(family: Callable[[], list[Kin]], number: int) -> tuple[float, float, int]:
    steps = family()
    first = 1 + number * LotParent.objects.count() // (2 * SUBJECTS)

    def read() -> list[Kin]:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT child_id, parent_id, quantity FROM inventory_lotparent WHERE id >= %s ORDER BY id LIMIT %s",
                [first, len(steps)],
            )
            return [Kin(*row) for row in cursor.fetchall()]

    assert len(read()) == len(steps)
    return _least(family), _least(read), len(steps)


def _least(action: Callable[[], object]) -> float:
    took = []
    for _ in range(TIMES):
        began = time.perf_counter()
        action()
        took.append(time.perf_counter() - began)
    return min(took)


def scans() -> str:
    """Return the statements of a trace and of a balance that read a growing table whole, with their plans, as JSON."""
    melt = Melt.objects.select_related("grade").get(heat_number="0000000")
    tool = Lot.objects.get(code=f"T{melt.pk}-3-1")

    def trace_all() -> None:
        for _ in range(6):  # a prepared statement is planned anew only the first few times
            family = {step.child for step in of_melt(melt)}
        order_book.shipped(family)
        trace.forward(trace.lots_of_melt(melt), of_melt(melt))
        trace.down(trace.roots([tool.pk], of_lot(tool)))
        balance.of_melt(melt)

    return json.dumps(plans.read_whole(plans.statements(trace_all), GROWING))

"""Open orders of the time before the book, with the days that were given already."""

import datetime as dt
from collections.abc import Sequence

from inventory.models import Item
from inventory.services import reading
from inventory.services.ledger import Stamp
from inventory.services.moving_in import item_named, money
from orders.models import Customer, Promise
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from shop.shared.errors import Invalid
from shop.shared.tables import Row, Table

COLUMNS = (
    "order", "customer", "item", "words", "quantity", "price", "ship to", "reference", "day given", "received", "note",
)  # fmt: skip
NEEDED = ("customer", "quantity")
ONCE = ("customer", "ship to", "reference", "day given", "received", "note")


def groups(table: Table) -> list[list[Row]]:
    """Return the lines order by order; lines with the same number in *order* are one order, others stand alone."""
    by_order: dict[str, list[Row]] = {}
    for row in table.rows:
        by_order.setdefault(row.get("order") or f"line {row.number}", []).append(row)
    return list(by_order.values())


def take(rows: Sequence[Row], *, stamp: Stamp) -> str:
    """Take one open order with its lines and its day given."""
    first = rows[0]
    _refuse_two_answers(rows)
    wanted = [_wanted(row) for row in rows]
    order = ordering.take(_customer(first), wanted, _terms(first), at=stamp.at, by=stamp.by, source="moved in")
    received = money(first, "received")
    if received:
        ordering.receive_money(order, received, how="before the book", at=stamp.at, by=stamp.by)
    day = first.get("day given")
    set_aside = sum(line.reserved for line in order.lines.all())
    total = sum(line.qty for line in wanted)
    said = f"order of {order.customer.name}, {total} in {len(wanted)} line{'s' * (len(wanted) > 1)}"
    return f"{said}{f', day given {day}' if day else ''}, {set_aside} set aside now"


def _refuse_two_answers(rows: Sequence[Row]) -> None:
    """Refuse lines of one order that answer differently; a later line may leave empty what the first one says."""
    for column in ONCE:
        said = rows[0].get(column)
        other = next((row for row in rows[1:] if row.get(column) not in ("", said)), None)
        if other is not None:
            raise Invalid.field(
                column,
                f"{column.capitalize()}: lines {rows[0].number} and {other.number} are one order and differ here.",
            )


def _customer(row: Row) -> Customer:
    name = " ".join(row.get("customer").split())
    found = list(Customer.objects.filter(name__iexact=name, active=True).order_by("id")[:2])
    if not found:
        raise Invalid.field("customer", f"Customer: {name[:60]!r} is not in the book; move in the customers first.")
    if len(found) > 1:
        raise Invalid.field("customer", f"Customer: two are called {name[:60]}; take this order at the Counter.")
    return found[0]


def _wanted(row: Row) -> Wanted:
    try:
        return _read_wanted(row)
    except Invalid as refusal:
        said = {name: f"Line {row.number}: {sentence}" for name, sentence in refusal.fields.items()}
        raise Invalid(refusal.sentence, said) from refusal


def _read_wanted(row: Row) -> Wanted:
    item: Item | None = item_named(row) if row.get("item") else None
    if item is None and not row.get("words"):
        raise Invalid.field("item", "Item: write an item, or words for something made to order.")
    if len(row.get("words")) > 300:
        raise Invalid.field("words", "Words: up to 300 characters would work.")
    amount = reading.quantity(row.get("quantity"), item or Item(unit=Item.Unit.PIECE, code="made to order"))
    return Wanted(qty=amount.qty, item=item, words="" if item else row.get("words"), price_minor=money(row, "price"))


def _terms(row: Row) -> Terms:
    for column, most in (("reference", 80), ("note", 300), ("ship to", 600)):
        if len(row.get(column)) > most:
            raise Invalid.field(column, f"{column.capitalize()}: up to {most} characters would work.")
    return Terms(
        reference=row.get("reference") or row.get("order")[:80],
        ship_to=row.get("ship to"),
        note=row.get("note"),
        day_given=_day(row.get("day given")),
        day_source=Promise.Source.TAKEN_OVER,
        below_minimum=True,  # it was taken long ago
    )


def _day(typed: str) -> dt.date | None:
    if not typed:
        return None
    try:
        day = dt.date.fromisoformat(typed)
    except ValueError:
        raise Invalid.field("day given", f"Day given: {typed[:20]!r} is no day; write it as 2026-12-17.") from None
    if not 2000 <= day.year <= 2100:
        raise Invalid.field("day given", f"Day given: {typed} is far off; write the day that was given.")
    return day

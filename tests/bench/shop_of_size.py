"""A shop of a size: five hundred items that are sold, and a book as long as is asked for."""

import datetime as dt
import json
from collections.abc import Iterator
from typing import Any

from django.db import connection, transaction

from inventory.models import Entry, Holding, Item, Lot, Movement
from orders.queries import availability
from orders.services import holding
from shop.access.services import keys
from shop.shared import clock, shop_row
from tests import makers

TOOLS = 100
PLAIN = 100
CHUNK = 20_000


def fill(movements: int = 0) -> str:
    """Make the shop and return what a client must know, as JSON."""
    at = clock.now()
    with transaction.atomic():
        shop_row.make(shop_row.Settings(name="Invented Forge"), at=at, by="bench")
        scopes = ["availability:read", "orders:read", "orders:write"]
        _, text = keys.make(name="bench", scopes=scopes, at=at, by=None)
    tools = []
    for number in range(TOOLS):
        tool = makers.make_tool(code=f"TOOL-{number:03d}")
        makers.put_in_parts(tool, 5, 5, 10)
        makers.put_in(tool.item, 2)
        tools.append(tool.item.code)
    plain = []
    for number in range(PLAIN):
        item = makers.make_item(code=f"HANDLE-{number:03d}")
        makers.put_in(item, 10_000)
        plain.append(item.code)
    lengthen(movements)
    return json.dumps({"key": text, "tools": tools, "plain": plain, "movements": Movement.objects.count()})


def lengthen(movements: int) -> None:
    """Lengthen the book to so many movements: lots that came, went in part to a customer and stand empty now.

    They are written in bulk and without checksums, because a million calls of the services would take the day.
    """
    items = list(Item.objects.exclude(kind=Item.Kind.TOOL).order_by("id").values_list("id", flat=True))
    supplier, customer, shelf = (makers.place(code) for code in ("SUPPLIER", "CUSTOMER", "SHELF"))
    began = clock.now() - dt.timedelta(days=3_000)
    missing = movements - Movement.objects.count()
    with transaction.atomic():
        for first in range(0, missing, CHUNK):
            pairs = min(CHUNK, missing - first) // 2
            _write(pairs, items, first, began, supplier, customer, shelf)
    if connection.vendor == "postgresql":  # it does so by itself after a while; SQLite never does
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _write(pairs, items, first, began, supplier, customer, shelf) -> None:
    when = began + dt.timedelta(minutes=first)
    entries = Entry.objects.bulk_create(
        [
            Entry(kind=kind, happened_at=when, booked_at=when, lines=1, seal=0)
            for _ in range(pairs)
            for kind in ("delivery", "use")
        ],
        batch_size=2_000,
    )
    lots = Lot.objects.bulk_create(
        [
            Lot(code=f"Z{first}-{n}", item_id=items[(first + n) % len(items)], entry=entries[2 * n], born_at=when)
            for n in range(pairs)
        ],
        batch_size=2_000,
    )
    Holding.objects.bulk_create(
        [Holding(lot=lot, place=shelf, item_id=lot.item_id, on_hand=0) for lot in lots], batch_size=2_000
    )
    Movement.objects.bulk_create(_movements(lots, entries, supplier, customer, shelf), batch_size=2_000)


def _movements(lots, entries, supplier, customer, shelf) -> Iterator[Movement]:
    for n, lot in enumerate(lots):
        for entry, source, target in ((entries[2 * n], supplier, shelf), (entries[2 * n + 1], shelf, customer)):
            yield Movement(
                entry=entry, line=1, item_id=lot.item_id, lot=lot, from_place=source, to_place=target, qty=5, seal=0
            )


def plans() -> str:
    """Return how the database goes about every statement of a reading and of a hold: statement to plan, as JSON."""
    tool = Item.objects.get(code="TOOL-007")
    plain = Item.objects.get(code="HANDLE-007")
    at = clock.now()
    said: list[tuple[str, Any]] = []

    def note(execute, sql, params, many, context):
        said.append((sql, params))
        return execute(sql, params, many, context)

    with transaction.atomic():
        with connection.execute_wrapper(note):
            availability.one(tool, at=at)
            availability.of(None, at=at)
            for item in (tool, plain):
                holding.put_by(item, 1, minutes=5, at=at, made_by="bench")
        found = {sql: _plan(sql, params) for sql, params in said if sql.startswith(("SELECT", "UPDATE"))}
        transaction.set_rollback(True)
    return json.dumps(found)


def _plan(sql: str, params: Any) -> list[str]:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
            return [row[3] for row in cursor.fetchall()]
        cursor.execute(f"EXPLAIN (COSTS OFF) {sql}", params)
        return [row[0] for row in cursor.fetchall()]

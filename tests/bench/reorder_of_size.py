"""A shop of so many bought items with three years of order lines, written behind the services, and what its night costs.

Not a test: `tests/bench/test_the_night.py` runs these functions inside a service's own process.
"""

import datetime as dt
import json
import random
import resource
import time

from django.db import connection

from inventory.models import Entry, Item, ItemStock, Lot, Supplier
from inventory.services import catalogue
from orders.models import Customer, Order, OrderLine
from orders.queries.reorder import needs, proposals
from orders.services import learning
from shop.shared import clock, shop_row, transactions

YEARS, LINES_EACH, LINES_AN_ORDER = 3, 30, 20
AT_ONCE = 2_000


def fill(items: int) -> str:
    """Write the items, each with a lot, and about thirty order lines each over three years."""
    dice = random.Random(items)
    now = clock.now()
    with transactions.entry_point():
        shop_row.make(shop_row.Settings("Invented Forge"), at=now, by="bench")
        catalogue.ensure_places()
    suppliers = [Supplier.objects.create(name=f"Invented supplier {n}", lead_days=5 + 3 * n) for n in range(40)]
    Item.objects.bulk_create(
        (
            Item(
                code=f"H-{n}", name=f"Invented {n}", kind="handle", unit="piece", buy_unit="dozen", issue_per_buy=12,
                supplier=suppliers[n % 40], lead_days=5 + n % 30,
            )
            for n in range(items)
        ),
        batch_size=AT_ONCE,
    )  # fmt: skip
    known = list(Item.objects.order_by("pk").values_list("pk", flat=True))
    began = now - dt.timedelta(days=365 * YEARS)
    entry = Entry.objects.create(kind=Entry.Kind.MOVE_IN, happened_at=began, booked_at=began, lines=1, seal=0)
    Lot.objects.bulk_create(
        (Lot(code=f"L{pk}", item_id=pk, entry=entry, born_at=began) for pk in known), batch_size=AT_ONCE
    )
    ItemStock.objects.bulk_create(
        (ItemStock(item_id=pk, sellable=dice.randrange(0, 60)) for pk in known), batch_size=AT_ONCE
    )
    customer = Customer.objects.create(name="Invented buyer", kind="dealer")
    orders = items * LINES_EACH // LINES_AN_ORDER
    Order.objects.bulk_create(
        (
            Order(
                number=n + 1, customer=customer, closed_at=now,
                taken_at=began + dt.timedelta(minutes=dice.randrange(YEARS * 365 * 1_440 - 1_440)),
            )
            for n in range(orders)
        ),
        batch_size=AT_ONCE,
    )  # fmt: skip
    ids = list(Order.objects.order_by("pk").values_list("pk", flat=True))
    OrderLine.objects.bulk_create(
        (
            OrderLine(
                order_id=pk, number=line + 1, item_id=dice.choice(known), ordered=(qty := dice.choice((1, 1, 2, 3, 6, 12))),
                shipped=qty, queue_no=at * LINES_AN_ORDER + line + 1,
            )
            for at, pk in enumerate(ids)
            for line in range(LINES_AN_ORDER)
        ),
        batch_size=AT_ONCE,
    )  # fmt: skip
    return json.dumps({"items": items, "lines": OrderLine.objects.count()})


def night() -> str:
    """Learn, decide and propose as the night does; processor seconds and the peak of memory."""
    began = time.process_time()
    rows = learning.work_out(at=clock.now())
    learned = time.process_time()
    with transactions.entry_point():
        learning.keep(rows)
    kept = time.process_time()
    shop, now = shop_row.the_shop(), needs.stands(at=clock.now())
    found = needs.decided(now)
    made = proposals.of_needs(found, now, shop)
    ended = time.process_time()
    return json.dumps(
        {
            "items": len(rows), "learn": learned - began, "keep": kept - learned, "propose": ended - kept,
            "whole": ended - began, "due": sum(one.due for one in found), "proposals": len(made),
            "mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        }
    )  # fmt: skip


def raw() -> str:
    """Read the same demand events by a bare cursor and add them up by item and week: the floor."""
    began = time.process_time()
    zero = (clock.now() - dt.timedelta(days=7 * 156)).replace(tzinfo=None)
    found: dict[tuple[int, int], int] = {}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT l.item_id, o.taken_at, l.ordered FROM orders_orderline l JOIN orders_order o ON o.id = l.order_id"
        )
        for item, at, qty in cursor:
            moment = (
                dt.datetime.fromisoformat(at).replace(tzinfo=None) if isinstance(at, str) else at.replace(tzinfo=None)
            )
            key = item, (moment - zero).days // 7
            found[key] = found.get(key, 0) + qty
    return json.dumps({"events": sum(found.values()), "seconds": time.process_time() - began})

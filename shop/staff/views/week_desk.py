"""What the week sheet takes from the book besides the plan: who is out, what is down, what comes, goes and runs low."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from inventory.models import Away, MachineDown
from inventory.queries import presence, shelf, used_up
from orders.queries import due
from orders.queries.reorder.needs import Need
from shop.shared.models import ShutDays
from shop.staff import wording

MOST_ORDERS = 4  # goods to order that are named on the desk of one day


@dataclass(frozen=True, slots=True)
class Desk:
    """A line of the desk: it begins bold; where it leads."""

    bold: str
    words: str
    address: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a day: how many are there, who is out, what is down, why the shop is shut."""

    people: int
    out: tuple[str, ...] = ()
    down: tuple[str, ...] = ()
    shut: str = ""


def heads(dates: Sequence[dt.date], *, today: dt.date) -> dict[dt.date, Head]:
    """Return the head of each day; who has no last day is out up to today, and perhaps afterwards."""
    first, last = dates[0], dates[-1]
    away = list(Away.objects.filter(first__lte=last).exclude(last__lt=first).select_related("person").order_by("pk"))
    down = list(MachineDown.objects.filter(first__lte=last).exclude(last__lt=first).select_related("machine"))
    shut = list(ShutDays.objects.filter(first__lte=last, last__gte=first).order_by("first"))
    workers = presence.workers()
    found = {}
    for day in dates:
        out = {one.person_id: (one.person.name, _how(one, day, today)) for one in away if _covers(one, day)}
        still = {one.machine_id: (one.machine.name, _how(one, day, today)) for one in down if _covers(one, day)}
        gone = {number for number, (_, perhaps) in out.items() if not perhaps}
        found[day] = Head(
            sum(one.pk not in gone for one in workers),
            tuple(f"{name}{perhaps} out" for name, perhaps in out.values()),
            tuple(f"{name}{perhaps} down" for name, perhaps in still.values()),
            next((one.why for one in shut if one.first <= day <= one.last), ""),
        )
    return found


def _covers(one: Away | MachineDown, day: dt.date) -> bool:
    return one.first <= day and (one.last is None or day <= one.last)


def _how(one: Away | MachineDown, day: dt.date, today: dt.date) -> str:
    return " perhaps" if one.last is None and day > max(today, one.first) else ""


def desk(dates: Sequence[dt.date], *, today: dt.date, needs: Sequence[Need]) -> dict[dt.date, list[Desk]]:
    """Return the lines of the desk: deliveries due, parcels to send, goods to order; what is overdue stands on today."""
    lines: dict[dt.date, list[Desk]] = defaultdict(list)

    def put(day: dt.date, line: Desk) -> None:
        day = max(day, today)
        if dates[0] <= day <= dates[-1]:
            lines[day].append(line)

    for order in shelf.expected(until=dates[-1]):
        day = shelf.day_expected(order) or today
        late = f", was due {wording.on_day(day)}" if day < today else ""
        address = wording.address("staff:door_order", order.number)
        put(day, Desk("Door", f"{order.supplier.name}, order {order.number}{late}", address))
    for row in due.until(dates[-1]):
        late = f", given {wording.on_day(row.day)}" if row.day < today else ""
        short = row.left - row.set_aside
        owed = f", {wording.figures(short)} still owed" if short else ""
        address = wording.address("staff:order", row.order.number)
        put(
            row.day,
            Desk(
                f"Send {row.order.number}",
                f"{row.order.customer.name}, {wording.figures(row.left)}{owed}{late}",
                address,
            ),
        )
    _goods(put, needs, today=today)
    return lines


def _goods(put: Callable[[dt.date, Desk], None], needs: Sequence[Need], *, today: dt.date) -> None:
    """Put goods to order on the day by which they are ordered, and the bottle that is in use where it runs low."""
    by_day: dict[dt.date, list[Need]] = defaultdict(list)
    for need in needs:
        if not need.make and need.decision.order_by is not None:
            by_day[max(today, need.decision.order_by)].append(need)
    for day, rows in by_day.items():
        for need in rows[:MOST_ORDERS]:
            until = need.decision.lasts_until
            lasts = f", lasts until {wording.on_day(until)}" if until else ""
            put(day, Desk("Order", f"{need.item.name}{lasts}", wording.address("staff:item_lasts", need.item.code)))
        if len(rows) > MOST_ORDERS:
            put(
                day,
                Desk(
                    "Order",
                    f"{len(rows) - MOST_ORDERS} more goods, see how long they last",
                    wording.address("staff:lasts"),
                ),
            )
    for bottle in used_up.bottles():
        if bottle.lasts is not None and bottle.since >= bottle.lasts[1]:
            said = f"{bottle.item.name}: {wording.figures(bottle.since)} pieces since it was changed"
            put(today, Desk("Bottle", said, wording.address("staff:floor_note")))

"""What an order's page says of its days: how sure they are now, what they wait for, until when it was only said."""

from dataclasses import dataclass

from orders.models import Order, Promise
from orders.queries import at_risk
from shop.shared import clock, shop_row
from shop.staff import wording

_SOURCE = {"by hand": "given by hand", "taken over": "given before this book"}


def days_of(order: Order) -> list[str]:
    """Say each standing day of an order: for what, how it was come to, how sure it was and is."""
    rated = {one.promise_id: one for one in at_risk.standing().filter(promise__order=order)}
    found, shop = [], shop_row.the_shop()
    for promise in Promise.objects.filter(order=order, superseded_by=None).select_related("line__item").order_by("id"):
        of = f"Line {promise.line.number}: " if promise.line else ""
        given = clock.local_date(promise.given_at, shop.zone)
        said = f"{of}{wording.on_day(promise.day, seen=given)}, {come_to(promise)}."
        now = rated.get(promise.pk)
        if now is not None and order.closed_at is None:
            wanted = at_risk.wanted_ppm(now, shop)
            said += f" Now {wording.of_hundred(now.chance_ppm, wanted_ppm=wanted)}"
            said += (
                f", was {wording.of_hundred(now.before_ppm, wanted_ppm=wanted)}"
                if now.before_ppm != now.chance_ppm
                else ""
            )
            said += f"; waits for {now.holds}." if now.holds else "."
            if now.slips_since and now.sure_day:
                said += f" As sure as wanted by {wording.on_day(now.sure_day)}."
        found.append(said)
    return found


def come_to(promise: Promise) -> str:
    """Say how a day was come to: worked out with its chance, by hand, or before the book."""
    if promise.source != Promise.Source.CALCULATED:
        return _SOURCE[promise.source]
    return f"worked out: kept {wording.of_hundred(promise.chance_ppm or 0)}"


@dataclass(frozen=True, slots=True)
class Spoken:
    """What was only said on the phone: until when, or that it was let go."""

    until: str
    let_go: bool


def spoken(order: Order) -> Spoken | None:
    """Return until when an order was only said; nothing where it is an order like any other."""
    if order.said_until is None:
        return None
    return Spoken(wording.on_day(order.said_until), order.let_go_at is not None)

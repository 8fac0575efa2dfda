"""What the night learns of demand and lead times, kept so that every page and message of the day says the same."""

import datetime as dt

from inventory.calc.reorder.deciding import decide
from orders.models import Learned
from orders.queries.reorder import basis as bases
from orders.queries.reorder import needs
from orders.queries.reorder.basis import Basis
from orders.queries.reorder.needs import Stands
from orders.queries.reorder.positions import positions
from orders.queries.reorder.structure import structure
from shop.shared import clock, shop_row, transactions

_AT_ONCE = 500
_COLUMNS = (
    "learned_on",
    "method",
    "per_day",
    "point",
    "up_to",
    "lead_days",
    "service",
    "error",
    "naive_error",
    "basis",
)


def work_out(*, at: dt.datetime) -> list[Learned]:
    """Work out what there is to learn this day, with a decision for every item; writes nothing."""
    shop = shop_row.the_shop()
    today = clock.local_date(at, shop.zone)
    built = structure(kerf_nm=shop.kerf_nm)
    found = bases.worked_out(built, shop, today=today)
    per_day = {pk: one.per_day for pk, one in found.items()}
    takes = {pk: one.lead.mean for pk, one in found.items()}
    places = positions(built, at=at, today=today, per_day=per_day, takes=takes)
    stands = Stands(built, found, places, needs.records(built, zone=shop.zone), needs.wishes(), today)
    return [_row(stands, one) for one in found.values()]


def _row(stands: Stands, one: Basis) -> Learned:
    asked = needs.asked_of(stands, one, stands.places[one.item.pk])
    decision = decide(asked, today=stands.today)
    return Learned(
        item=one.item, learned_on=stands.today, method=one.method, per_day=one.per_day, point=decision.point,
        up_to=max(decision.point, decision.up_to), lead_days=one.lead.mean, service=one.service, error=one.error,
        naive_error=one.naive_error, basis=bases.as_json(one),
    )  # fmt: skip


def keep(rows: list[Learned]) -> int:
    """Keep what was learned in place of what was known; items that are no longer reordered are forgotten."""
    transactions.assert_open()
    _forget(rows)
    Learned.objects.bulk_create(
        rows, batch_size=_AT_ONCE, update_conflicts=True, unique_fields=["item"], update_fields=_COLUMNS
    )
    return len(rows)


def _forget(rows: list[Learned]) -> None:
    known = {row.item_id for row in rows}
    gone = [pk for pk in Learned.objects.values_list("pk", flat=True) if pk not in known]
    for first in range(0, len(gone), _AT_ONCE):
        Learned.objects.filter(pk__in=gone[first : first + _AT_ONCE]).delete()


__all__ = ["keep", "work_out"]

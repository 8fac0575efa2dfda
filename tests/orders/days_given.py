"""Days given for tests: each as the calculator's, a hand's or the old book's would stand in the table."""

import datetime as dt
from collections.abc import Sequence

from orders.calc.dates_json import writing
from orders.models import Order, OrderLine, Promise, PromiseBasis, RatedPromise
from tests.makers import AT


def give(
    order: Order,
    day: dt.date,
    *,
    source: str = Promise.Source.CALCULATED,
    chance: float = 0.93,
    wanted: float = 0.9,
    curve: Sequence[tuple[dt.date, float]] = (),
    plain: dt.date | None = None,
    line: OrderLine | None = None,
    at: dt.datetime = AT,
) -> Promise:
    """Give a day for an order or one of its lines; it supersedes the one given before for the same."""
    calculated = source == Promise.Source.CALCULATED
    packed = writing.pack({"invented": "for tests"})
    digest = packed.partition(":")[0]
    basis = (
        PromiseBasis.objects.create(digest=digest, inputs={"packed": packed}, code_version="tests")
        if calculated
        else None
    )
    curve = curve or ([(day, chance)] if calculated else [])
    return Promise.objects.create(
        order=order,
        line=line,
        day=day,
        source=source,
        basis=basis,
        chance_ppm=round(chance * 1e6) if calculated else None,
        wanted_chance_ppm=round(wanted * 1e6) if calculated else None,
        given_at=at,
        supersedes=Promise.objects.filter(order=order, line=line).order_by("-pk").first(),
        plain_day=plain,
        curve=[[each.isoformat(), round(share * 1e6)] for each, share in curve],
    )


def slip(promise: Promise, since: dt.datetime, *, sure: dt.date | None = None, holds: str = "") -> RatedPromise:
    """Rate a day as one that will not be kept."""
    return RatedPromise.objects.create(
        promise=promise, chance_ppm=400_000, before_ppm=900_000, sure_day=sure, holds=holds, at=since, slips_since=since
    )

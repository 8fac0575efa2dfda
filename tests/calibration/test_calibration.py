"""Dates are kept as often as is said: shadow shops run by the calculator's plan, judged by the day the carrier came.

Whole days over-cover, so a date is set against its own stated chance and not against the chance wanted. The unrest of a
shop was read off shops 0 to 99; the many shops judged here are others.
"""

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from random import Random

import pytest

from orders.calc.record import Figures, Promise, record
from tests.calibration.judging import AFTER, CHANCES, WEEKS, Judged, judge
from tests.shadow import FOLLOWS_THE_LAWS, HIDDEN, Laws

DAILY, MANY = range(20), range(1_000, 1_250)  # shops, by their seeds
LAST = 7 * (WEEKS + AFTER) - 1


def promised(one: Judged) -> Promise:
    """Give a date as the record wants it; the days of one shop share their luck."""
    given = one.given
    curve = tuple((given.asked + day, count / given.curve.futures) for day, count in enumerate(given.curve.counts))
    return Promise(
        given.asked, given.day, curve, one.sent, str(one.shop), given.sure, made_to_order=given.to_order, plain=given.naive
    )  # fmt: skip


def run(shops: range, laws: Laws) -> list[Promise]:
    """Run shops on all cores."""
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("fork")) as pool:
        return [promised(one) for found in pool.map(judge, shops, [laws] * len(shops)) for one in found]


def over(found: Figures) -> float:
    """Give by how much more was kept than was said."""
    assert found.stated is not None
    return found.kept / found.of - found.stated


def kept(promises: list[Promise], *, sooner: int = 0) -> float:
    """Give the share that was sent by the day given, or some days sooner."""
    return sum(one.sent is not None and one.sent <= one.day - sooner for one in promises) / len(promises)


@pytest.mark.daily("sqlite")
def test_twenty_shops_keep_about_what_is_said() -> None:
    found = record(run(DAILY, FOLLOWS_THE_LAWS), last=LAST, seed=1).all
    assert found is not None
    assert (found.clusters, found.of > 100) == (20, True)
    assert abs(over(found)) <= 0.08, found


@pytest.mark.long
def test_two_hundred_and_fifty_shops_keep_what_is_said() -> None:
    promises = run(MANY, FOLLOWS_THE_LAWS)
    found = record(promises, last=LAST, seed=1)
    print(found.all, found.made_to_order, found.beside)
    assert found.all is not None
    assert found.all.off is not None
    assert abs(over(found.all)) <= 0.015, found.all
    assert -0.03 <= found.all.off[0] <= found.all.off[1] <= 0.03, found.all
    by_shop = {one.cluster: [each for each in promises if each.cluster == one.cluster] for one in promises}
    places = record([Random(shop).choice(mine) for shop, mine in by_shop.items()], last=LAST, seed=1).spread
    assert places.uneven is not None
    assert places.uneven <= places.limit, places
    for sure in CHANCES:
        mine = [one for one in promises if one.made_to_order and one.wanted == sure]
        assert kept(mine) >= sure >= kept(mine, sooner=1), (sure, len(mine))


@pytest.mark.long
def test_a_shop_that_drifts_and_breaks_down_keeps_most() -> None:
    promises = run(MANY, HIDDEN)
    found = record(promises, last=LAST, seed=1)
    print(found.all, found.made_to_order, found.beside)
    assert kept([one for one in promises if one.wanted == 0.9]) >= 0.85

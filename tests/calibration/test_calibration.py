"""Dates are kept as often as is said: shadow shops run by the calculator's plan, judged by the day the carrier came.

Whole days over-cover, so a date is set against its own stated chance and not against the chance wanted.
"""

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import pytest

from tests.calibration.judging import Judged, judge
from tests.calibration.record import chi_square, places, record, share_kept
from tests.shadow import FOLLOWS_THE_LAWS, HIDDEN, Laws

EVEN = 21.666  # chi-square, 9 degrees of freedom, 99 in 100 (any table of the distribution)
DAILY, MANY = 20, 250  # shops


def run(shops: range, laws: Laws) -> list[Judged]:
    """Run shops on all cores."""
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("fork")) as pool:
        return [one for found in pool.map(judge, shops, [laws] * len(shops)) for one in found]


@pytest.mark.daily("sqlite")
def test_twenty_shops_keep_about_what_is_said() -> None:
    judged = run(range(DAILY), FOLLOWS_THE_LAWS)
    found = record(judged)
    assert found.dates > 5 * DAILY
    assert abs(found.over) <= 0.08, found


@pytest.mark.long
def test_two_hundred_and_fifty_shops_keep_what_is_said() -> None:
    judged = run(range(1_000, 1_000 + MANY), FOLLOWS_THE_LAWS)
    found = record(judged)
    to_order = [one for one in judged if one.given.to_order]
    print(found, record(to_order), "naive", share_kept(judged, lambda one: one.given.naive))
    assert abs(found.over) <= 0.015, found
    assert found.low >= -0.03, found
    assert found.high <= 0.03, found
    assert chi_square(places(judged)) <= EVEN
    for sure in (0.8, 0.9, 0.95):
        mine = [one for one in to_order if one.given.sure == sure]
        assert share_kept(mine, lambda one: one.given.day) >= sure - 0.03, (sure, len(mine))


@pytest.mark.long
def test_a_shop_that_drifts_and_breaks_down_keeps_most() -> None:
    judged = run(range(1_000, 1_000 + MANY), HIDDEN)
    mine = [one for one in judged if one.given.sure == 0.9]
    kept = share_kept(mine, lambda one: one.given.day)
    print("hidden", record(judged), "at 90", kept, "naive", share_kept(mine, lambda one: one.given.naive))
    assert kept >= 0.85

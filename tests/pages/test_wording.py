"""Figures of chances: one rounding for every page."""

import datetime as dt

import pytest

from orders.models import RatedPromise
from orders.queries.at_risk import Slipping
from shop.staff import wording


@pytest.mark.parametrize(
    ("chance", "wanted", "said"),
    [(0.946, 0.95, 94), (0.95, 0.95, 95), (0.954, 0.95, 95), (0.72, 0.9, 72), (0.0, 0.9, 0), (0.997, 1, 99)],
)
def test_a_chance_below_what_was_wanted_is_never_printed_as_what_was_wanted(
    chance: float, wanted: float, said: int
) -> None:
    assert wording.in_hundred(chance, wanted=wanted) == said


def test_a_day_far_off_has_its_year() -> None:
    seen = dt.date(2026, 11, 27)
    assert wording.on_day(dt.date(2027, 1, 5), seen=seen) == "Tue 5 Jan"
    assert wording.on_day(dt.date(2027, 11, 5), seen=seen) == "Fri 5 Nov 2027"


@pytest.mark.parametrize(
    ("ppm", "said"), [(0, 0), (400, 0), (3_000, 1), (712_000, 71), (997_000, 99), (1_000_000, 100)]
)
def test_a_slipping_day_is_rounded_as_on_its_orders_page(ppm: int, said: int) -> None:
    assert Slipping(RatedPromise(chance_ppm=ppm), ()).of_hundred == said
    assert wording.in_hundred(ppm / 1_000_000) == said

"""Figures of chances: one rounding for every page."""

import datetime as dt

import pytest

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

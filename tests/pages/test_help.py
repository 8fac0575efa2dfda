"""The page that explains ship dates says what the calculator does, with the calculator's own figures."""

import datetime as dt
import re

import numpy as np
import pytest

from orders.calc.dates import asking, dispatch, futures, ideas, materials, topping
from orders.calc.dates.answers import Curve
from orders.calc.dates.route import Product, Step
from orders.calc.dates.state import Coming, Hours, Shop, Supplier
from shop.staff.views import help_pages
from tests import makers
from tests.pages.pressing import text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def page(db: None) -> str:
    make_shop()
    return re.sub(r"\s+", " ", text(client_of("hand").get("/help/dates")))


def test_its_figures_are_those_of_the_calculator(page: str) -> None:
    shop, hours = Shop(Hours(dt.date(2026, 12, 1)), ()), Hours(dt.date(2026, 12, 1))
    product = Product("", "", (Step(1, ""),))
    for said in (
        f"plays the shop forward {asking.FUTURES:,} times".replace(",", "\u2009"),
        f"sent within {shop.horizon_days} days, or in which pieces are still short after {topping.TOP_UPS} further runs",
        f"as many of them as are {shop.starts_sure:.0%} times in 100".replace("%", ""),
        f"a usual run of the pattern ({product.usual} pieces",
        f"no run is larger than its most ({product.most})",
        f"within {dispatch.AT_ONCE:.0f} minutes of work",
        f"of those {hours.production * 100:.0f} in 100 are production",
        f"takes {shop.pack_minutes} minutes to pack",
        f"each takes {shop.top_up_waits:.0f} times its minutes",
        f"by {shop.unrest * 100:.0f} in 100 on the average",
        f"loses more than {asking.POINT * 100:.0f} in 100",
        f"for {futures.LOOK_AHEAD} open days",
        f"in {ideas.FUTURES:,} futures; the best {ideas.BEST} are shown".replace(",", "\u2009"),
    ):
        assert re.sub(r"\s+", " ", said) in page, said
    assert 1.96 * (0.9 * 0.1 / asking.FUTURES) ** 0.5 < 0.01, "within 1 of 100, nineteen times in twenty"


def test_its_example_is_read_as_the_calculator_reads_a_curve() -> None:
    counts = [count for _, count in help_pages.SENT_BY]
    curve = Curve.of(np.repeat(np.arange(len(counts)), np.diff([0, *counts])), len(counts))
    said = {str(row[0]).replace("\u00a0", " "): row[2] for row in help_pages._example().rows if row[2]}
    even, nine = curve.day(0.5), curve.day(0.9)
    assert even is not None
    assert nine is not None
    assert list(said) == [help_pages.SENT_BY[even][0], help_pages.SENT_BY[nine][0]]
    assert f"{curve.sure(nine) * 100:.0f} in 100" in said[help_pages.SENT_BY[nine][0]]


def test_a_delivery_later_than_ever_comes_on_one_of_the_next_days_as_it_says(page: str) -> None:
    assert "as many as the record spreads over, five at the least" in page
    overdue = Coming("handle", 1, -30, "wood")
    assert [overdue.day + late for late in materials.late_days(overdue, Supplier("wood", (0, 2)))] == [1, 2, 3, 4, 5]
    assert len(materials.late_days(overdue, Supplier("wood", (-4, 9)))) == 13


def test_it_says_how_far_a_chance_can_be_trusted_and_what_is_owed_when_late(page: str) -> None:
    for said in (
        "only as good as the counts",
        "16 CFR 435",
        "notice",
        "consent",
        "money back",
        "the law of the place you sell to",
    ):
        assert said in page


def test_whoever_gives_a_day_can_read_it(db: None) -> None:
    make_shop()
    order = makers.make_order({makers.make_tool().item: 1})
    desk = client_of("desk")
    for address in (f"/order/{order.number}/day", f"/order/{order.number}"):
        assert 'href="/help/dates"' in desk.get(address).content.decode()

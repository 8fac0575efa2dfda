"""What the calculator is told of a shop: slips of the pen are refused; what is late already comes some day."""

from collections.abc import Callable

import numpy as np
import pytest

from orders.calc.dates.futures import Futures
from orders.calc.dates.materials import late_days
from orders.calc.dates.route import Fire, Oven, Product, Step
from orders.calc.dates.state import DAY, Batch, Coming, Line, Machine, Supplier
from tests.calc.dates_making import always_open

STEP = Step(1, "forged", 1.0)


@pytest.mark.parametrize(
    "slip",
    [
        lambda: Fire(0, 1.0), lambda: Fire(1, -1.0), lambda: Oven(0, 1, 1, "204"), lambda: Oven(1.1, 1, 1, "204"),
        lambda: Oven(0.5, -1, 1, "204"), lambda: Oven(0.5, 1, -1, "204"), lambda: Step(1, "forged", -1.0),
        lambda: Step(1, "forged", set_up=-1), lambda: Step(1, "forged", change=-1), lambda: Step(1, "cured", cure=-1),
        lambda: Step(1, "checked", rework_minutes=-1), lambda: Step(1, "forged", unsure=3.1),
        lambda: Step(1, "forged", people=-1), lambda: Step(1, "checked", rework=1.5),
        lambda: Step(1, "hafted", uses=(("handle", 0.0),)), lambda: Step(1, "checked", good=5.0),
        lambda: Step(1, "tempered", oven=Oven(0.5, 1, 1, "204")), lambda: Product("axe", "p", ()),
        lambda: Product("axe", "p", (STEP, STEP)), lambda: Product("axe", "p", (STEP,), most=0),
        lambda: Product("axe", "p", (STEP,), bar_gives=0), lambda: Product("axe", "p", (STEP,), usual=0),
        lambda: Batch("run", "axe", 0, 0), lambda: Batch("run", "axe", 0, 1, ready=-1),
        lambda: Batch("run", "axe", 0, 1, done_minutes=-1.0), lambda: Supplier("mill", ()),
        lambda: Supplier("mill", (0,), -1), lambda: Coming("blank", 0, 1, "mill"), lambda: Line("1", "axe", -1),
        lambda: Line("1", "axe", 1, sure=1.0),
    ],
)  # fmt: skip
def test_a_slip_of_the_pen_is_refused(slip: Callable[[], object]) -> None:
    with pytest.raises(ValueError):
        slip()


def test_a_step_passes_what_comes_off_well_and_half_of_the_rest_where_that_is_worked_over() -> None:
    assert Step(1, "forged").rate == 1.0
    assert Step(1, "checked", good=8.0, bad=2.0).rate == 0.8
    assert Step(1, "checked", good=8.0, bad=2.0, rework=0.5).rate == pytest.approx(0.8 + 0.2 * 0.5 * 0.8)


def test_a_delivery_that_has_not_come_yet_is_late_by_what_is_still_possible() -> None:
    mill = Supplier("mill", (5, -2, 0, 0, 12))
    assert late_days(Coming("blank", 1, 3, "mill"), mill) == [-2, 0, 0, 5, 12]
    assert late_days(Coming("blank", 1, 0, "mill"), mill) == [0, 0, 5, 12]
    assert late_days(Coming("blank", 1, -6, "mill"), mill) == [12]
    overdue = late_days(Coming("blank", 1, -20, "mill"), mill)
    assert overdue == list(range(21, 35)), "later than ever: any day within as many as the record spreads over"
    assert late_days(Coming("blank", 1, -3, "new"), Supplier("new")) == [4, 5, 6, 7, 8]


def test_deliveries_come_in_each_future_as_the_record_says_and_each_by_itself() -> None:
    shop = always_open(
        lines=(), lorry=720, coming=(Coming("blank", 1, 2, "mill"), Coming("blank", 9, 2, "mill"), Coming("rope", 1, 1, "")),
        suppliers=(Supplier("mill", (0, 0, 0, 4), 7),), buys_from={"blank": "mill", "rope": "nobody"},
    )  # fmt: skip
    futures = Futures(shop, 1, 20_000)
    first, second, rope = futures.arrivals
    assert set(first.tolist()) == {2 * DAY + 720, 6 * DAY + 720}
    assert abs((first == 2 * DAY + 720).mean() - 0.75) <= 5 * (0.75 * 0.25 / 20_000) ** 0.5  # five standard errors
    assert abs(((first > 3 * DAY) & (second > 3 * DAY)).mean() - 1 / 16) <= 5 * (15 / 256 / 20_000) ** 0.5
    assert set(rope.tolist()) == {DAY + 720}
    assert list(futures.bought) == ["blank"]
    assert set(futures.bought["blank"].tolist()) == {7 * DAY + 720, 11 * DAY + 720}
    again = Futures(always_open(lines=(), lorry=720, coming=(Coming("blank", 1, 3, "mill"),), suppliers=shop.suppliers), 1,
                    20_000)  # fmt: skip
    assert (again.arrivals[0] == first + DAY).all(), "promised a day later it is late by as much"
    assert np.unique(first).size == 2


def test_a_machine_code_may_be_named_by_no_step() -> None:
    shop = always_open(lines=(), machines=(Machine("ANVIL"),))
    assert Futures(shop, 1, 5).gaps(shop, Step(1, "cured", people=0)) is None

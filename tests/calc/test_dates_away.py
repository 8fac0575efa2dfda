"""People who are ill, machines that are down: work stops while one of those it takes is away, and for no longer."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.dates import away, worktime
from orders.calc.dates.chance import Law
from orders.calc.dates.dispatch import propose
from orders.calc.dates.futures import Futures
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Batch, Hours, Machine, Person, Spells
from tests.calc.dates_making import ALWAYS, MONDAY, always_open, passed, product

Floats = npt.NDArray[np.float64]
spans = st.tuples(st.integers(0, 60), st.integers(1, 15)).map(lambda span: (span[0], sum(span)))
FUTURES = 20_000


def row(spells: list[tuple[int, int]]) -> tuple[Floats, Floats]:
    """Give the spells of somebody in one future."""
    ordered = np.array(sorted(spells), dtype=float).reshape(-1, 2)
    return ordered[:, :1], ordered[:, 1:]


def by_minutes(who: list[list[tuple[int, int]]], ready: int, minutes: int) -> tuple[int, int]:
    """Wait and work minute by minute; a step that takes no time only waits."""

    def gone(minute: int) -> bool:
        return any(begin <= minute < end for one in who for begin, end in one)

    while gone(ready):
        ready += 1
    ends = ready
    while minutes:
        minutes -= not gone(ends)
        ends += 1
    return ready, ends


@given(
    who=st.lists(st.lists(spans, max_size=5), min_size=1, max_size=3),
    steps=st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=4),
)
def test_steps_go_on_while_all_are_there_and_wait_while_one_is_away(
    who: list[list[tuple[int, int]]], steps: list[tuple[int, int]]
) -> None:
    gaps = away.together([row(one) for one in who], 1)
    if gaps is None:
        assert not any(who)
        return
    at = 0
    for waits, minutes in steps:
        ahead = gaps.copy()
        begins = gaps.begin(np.array([float(at + waits)]))
        ends = gaps.finish(begins + minutes)
        assert (begins[0], ends[0]) == by_minutes(who, at + waits, minutes)
        again = ahead.begin(np.array([float(at + waits)]))
        assert list(ahead.finish(again + minutes)) == list(ends), "a copy goes on by itself"
        at = int(ends[0])


def test_nobody_away_is_nothing_to_wait_for() -> None:
    assert away.together([], 5) is None
    time = worktime.of(ALWAYS, 30)
    begins, ends = away.spells(time, frozenset(), Spells(), 1, "A", 5)
    assert begins.shape == ends.shape == (0, 5)


def test_days_that_are_known_are_the_same_in_all_futures() -> None:
    hours = Hours(MONDAY)
    time = worktime.of(hours, 30)
    begins, ends = away.spells(time, frozenset({-2, 0, 4, 5, 40}), Spells(), 1, "A", 3)
    assert begins.tolist() == [[0.0] * 3, [4 * 351.0] * 3, [5 * 351.0] * 3]  # day 5 is a Saturday: nothing is lost
    assert ends.tolist() == [[351.0] * 3, [5 * 351.0] * 3, [5 * 351.0] * 3]


def test_somebody_is_away_as_often_and_as_long_as_was_noted() -> None:
    law, days = Spells(0.05, (1, 1, 2, 8)), 200
    time = worktime.of(ALWAYS, days)
    begins, ends = away.spells(time, frozenset(), law, 3, "A", FUTURES)
    assert (begins[0] >= DAY).all(), "today is known"
    assert not (begins % DAY).any()
    assert not (ends % DAY).any()
    assert (begins[1:] >= ends[:-1]).all(), "nobody falls ill while he is ill"
    long = (ends - begins)[begins < days * DAY] / DAY
    assert set(long) == {1.0, 2.0, 8.0}
    assert abs(long.mean() - 3) <= 5 * long.std() / len(long) ** 0.5  # five standard errors
    first = begins[0] / DAY  # geometric: a day healthy with 95 in 100
    assert abs((first > 20).mean() - 0.95**20) <= 5 * (0.25 / FUTURES) ** 0.5
    # over a long time healthy days and ill days take turns: 1 / p - 1 and the mean of the spells
    there = np.minimum(ends, days * DAY) - np.minimum(begins, days * DAY)
    late = (there.sum(axis=0) / (days * DAY)).mean()
    assert abs(late - 3 / (19 + 3)) <= 0.01  # the first spell is a little later than in the long run


def test_who_is_ill_today_comes_back_as_those_did_who_were_ill_so_long() -> None:
    time = worktime.of(ALWAYS, 100)
    law = Spells(0.0, (1, 2, 5, 9))
    begins, ends = away.spells(time, frozenset(), law, 3, "A", FUTURES, since=3)
    assert not begins.any()
    assert set((ends / DAY).ravel()) == {3.0, 7.0}  # spells of five and nine days, today the third
    assert abs((ends == 3 * DAY).mean() - 0.5) <= 5 * 0.5 / FUTURES**0.5
    _, longest = away.spells(time, frozenset(), law, 3, "A", 10, since=30)
    assert set((longest / DAY).ravel()) == {1.0}, "longer than anybody was: today, and then he may be back"
    begins, ends = away.spells(time, frozenset(), Spells(0.2, (2,)), 3, "A", FUTURES, since=1)
    assert (begins[1:] >= ends[:-1]).all()
    assert (begins[1] >= ends[0]).all()


def test_a_spell_comes_from_the_name_and_not_from_who_is_asked_first() -> None:
    ill = Spells(0.1, (1, 4))
    shop = always_open(
        people=(Person("A", ill=ill), Person("B", ill=ill)), machines=(Machine("M", breaks=ill),), lines=()
    )
    one, other = Futures(shop, 5, 50), Futures(shop, 5, 50)
    by_a, by_b = Step(1, "forged", hands=("A",), machines=("M",)), Step(1, "ground", hands=("B",))
    first = one.gaps(shop, by_a)
    alone = other.gaps(shop, by_b)
    second = other.gaps(shop, by_a)
    assert first is not None
    assert second is not None
    assert alone is not None
    assert (first.begins == second.begins).all()
    assert (alone.begins[0] != first.begins[0]).any()
    assert other.gaps(shop, Step(1, "cured", people=0)) is None


def test_work_that_either_of_two_can_do_stands_still_only_while_both_are_away() -> None:
    ill = Spells(0.2, (1, 2, 3))
    shop = always_open(people=(Person("A", ill=ill), Person("B", ill=ill)), lines=())
    count = 200
    futures, work = Futures(shop, 7, count), worktime.of(shop.hours, shop.horizon_days).day_work
    gaps = futures.gaps(shop, Step(1, "ground"))
    assert gaps is not None
    rows = [away.spells(futures.time, frozenset(), ill, 7, who, count, days=futures.days) for who in ("A", "B")]
    for day in range(40):
        noon = (day + 0.5) * work
        gone = [((begin <= noon) & (noon < end)).any(axis=0) for begin, end in rows]
        stands = ((gaps.begins <= noon) & (noon < gaps.ends)).any(axis=0)
        assert (stands == (gone[0] & gone[1])).all(), day
    both = futures.gaps(shop, Step(1, "lifted", people=2))
    assert both is not None
    noon = 10.5 * work
    gone = [((begin <= noon) & (noon < end)).any(axis=0) for begin, end in rows]
    assert (((both.begins <= noon) & (noon < both.ends)).any(axis=0) == (gone[0] | gone[1])).all()


def test_spells_that_cannot_be_are_refused() -> None:
    for wrong in ({"chance": 1.0}, {"chance": -0.1}, {"lasts": ()}, {"lasts": (0,)}):
        with pytest.raises(ValueError, match="spell"):
            Spells(**wrong)


def test_work_of_two_people_stops_for_each_though_the_plans_first_begins_later() -> None:
    slow = product("axe", Step(1, "forged", 1000, Law("counted", (0.02, 1.98)), hands=("A",)), Step(2, "ground", 200))
    shop = always_open(
        slow, product("hammer", Step(1, "ground", 600)), people=(Person("A", frozenset({1})), Person("B", frozenset({1}))),
        batches=(Batch("hammers", "hammer", 0, 1, ready=1100),),
    )  # fmt: skip
    assert [one.people for one in propose(shop).operations] == [("A",), ("A",), ("B",)]
    filled = passed(shop, count=100)
    assert set(filled.ready[0]) == {220, DAY + 2180}
    assert set(filled.ready[1]) == {DAY + 1700}, "340 minutes on the first day, the rest on the third"

"""The plan as it is played: makespans of fixed sequences in flow shops, and loads of an oven, against printed values.

Jobs are products of one piece that pass the machines in the same order; nobody's hands are needed. The sequence is put on
the week sheet and kept, and the last job's ready minute is the makespan. The calculator claims no best sequence: it serves
orders in the order they were promised. How far that is from the best is written beside each case.
"""

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.dates.dispatch import propose
from orders.calc.dates.route import Oven, Step
from orders.calc.dates.state import Line, Machine, Pin, Shop
from tests.calc.dates_making import always_open, passed, product

Times = list[list[int]]
HOUR = 60


def flow_shop(times: Times, queue: list[int] | None = None, minutes: int = 1) -> Shop:
    """Make a flow shop whose orders were promised in the order of the queue."""
    machines = tuple(Machine(f"M{m}") for m in range(len(times[0])))
    jobs = [
        product(
            f"job {n}",
            *(Step(m + 1, "worked", minutes * took, people=0, machines=(f"M{m}",)) for m, took in enumerate(row)),
        )
        for n, row in enumerate(times)
    ]
    lines = tuple(Line(f"order {n}", f"job {n}", 1) for n in queue or range(len(times)))
    return always_open(*jobs, people=(), machines=machines, lines=lines)


def played(shop: Shop, *, sequence: list[int] | None = None) -> int:
    """Give the makespan in minutes, of the sequence on the week sheet where one is given."""
    if sequence is None:
        return max(int(row.max()) for row in passed(shop, count=2).ready)
    steps = range(1, len(shop.machines) + 1)
    pins = tuple(Pin(f"job {n}+1", step, 0) for n in sequence for step in steps)
    pinned = always_open(*shop.products, people=(), machines=shop.machines, lines=shop.lines, pins=pins)
    plan = propose(pinned)
    kept = propose(shop, keep=plan)
    spans = {max(int(row.max()) for row in passed(one, count=2, plan=kept).ready) for one in (pinned, shop)}
    spans |= {round(max(one.ends for one in by.operations)) for by in (plan, kept)}
    assert len(spans) == 1, "planned, pinned and kept are one"
    return spans.pop()


def by_recursion(times: Times, sequence: list[int]) -> int:
    """Give the makespan: a job begins on a machine when it is there and the machine is free."""
    free = [0] * len(times[0])
    for job in sequence:
        done = 0
        for machine, took in enumerate(times[job]):
            done = free[machine] = max(done, free[machine]) + took
    return free[-1]


HEIZER = [[5, 2], [3, 6], [8, 4], [10, 7], [7, 12]]  # Heizer & Render, Operations Management (from memory)
CHASE = [
    [3, 1],
    [2, 2],
    [1, 3],
]  # Jacobs & Chase, Operations and Supply Chain Management (order seen, makespan computed)
SIX = [
    [3, 8],
    [12, 10],
    [5, 9],
    [2, 6],
    [9, 3],
    [11, 1],
]  # a worked answer seen; its makespan 39 cannot be, 43 is computed
FIVE = [[4, 2], [5, 6], [9, 8], [7, 1], [3, 11]]  # a worked answer seen; it prints 35, 31 is the best
TUTORS = [[5, 8], [3, 9], [8, 7], [7, 2], [4, 6]]  # an exercise seen without an answer; computed
GIVEN = [[5, 2], [9, 3], [8, 7], [5, 4], [9, 6]]  # an exercise seen; computed


@pytest.mark.parametrize(
    ("times", "best", "makespan", "promised"),
    [  # the last number: makespan in the order of the queue A, B, C ..., as the calculator proposes it, 2 to 43 % longer
        (HEIZER, "BEDCA", 35, 45),
        (CHASE, "CBA", 7, 10),
        (SIX, "DACBEF", 43, 44),
        (FIVE, "EBCAD", 31, 39),
        (TUTORS, "BEACD", 35, 37),
    ],
)
def test_johnsons_sequence_takes_as_long_as_is_printed(times: Times, best: str, makespan: int, promised: int) -> None:
    sequence = ["ABCDEF".index(job) for job in best]
    assert played(flow_shop(times), sequence=sequence) == makespan == by_recursion(times, sequence)
    assert played(flow_shop(times, minutes=HOUR)) == promised * HOUR == by_recursion(times, sorted(sequence)) * HOUR
    assert played(flow_shop(times, sequence, minutes=HOUR)) == makespan * HOUR, "promised in that order it is the plan"


def test_a_given_sequence_takes_as_long_as_was_worked_out() -> None:
    assert played(flow_shop(GIVEN), sequence=["ABCDE".index(job) for job in "CEDBA"]) == 38


CAR7 = [  # Carlier 1978, data as kept in a public collection (seen)
    [692, 310, 832, 630, 258, 147, 255], [581, 582, 14, 214, 147, 753, 806], [475, 475, 785, 578, 852, 2, 699],
    [23, 196, 696, 214, 586, 356, 877], [158, 325, 530, 785, 325, 565, 412], [796, 874, 214, 236, 896, 898, 302],
    [542, 205, 578, 963, 325, 800, 120],
]  # fmt: skip
CAR5 = [
    [333, 991, 996, 123, 145, 234], [333, 111, 663, 456, 785, 532], [252, 222, 222, 789, 214, 586],
    [222, 204, 114, 876, 752, 532], [255, 477, 123, 543, 143, 142], [555, 566, 456, 210, 698, 573],
    [558, 899, 789, 124, 532, 12], [888, 965, 876, 537, 145, 14], [889, 588, 543, 854, 247, 527],
    [999, 889, 210, 632, 451, 856],
]  # fmt: skip


def test_the_best_permutation_of_seven_jobs_takes_as_long_as_is_printed() -> None:
    best = min(itertools.permutations(range(7)), key=lambda one: by_recursion(CAR7, list(one)))
    assert played(flow_shop(CAR7), sequence=list(best)) == 6590  # from memory; every permutation tried here
    assert 6558 <= played(flow_shop(CAR7)) <= 1.3 * 6590  # the order of the queue took 8170 when this was written


def test_the_best_permutation_of_ten_jobs_takes_as_long_as_is_printed() -> None:
    best = [3, 4, 1, 0, 2, 7, 5, 9, 8, 6]  # found by moving one job at a time from random beginnings
    assert played(flow_shop(CAR5), sequence=best) == 7720  # from memory
    assert 7702 <= played(flow_shop(CAR5)) <= 1.3 * 7720  # the order of the queue took 9311; 7702 where jobs may pass


def taillard(seed: int, jobs: int, machines: int) -> Times:
    """Make an instance of the published generator: Lehmer's numbers, 1 to 99, machine by machine."""
    rows = []
    for _ in range(machines):
        row = []
        for _ in range(jobs):
            seed = 16807 * seed % (2**31 - 1)
            row.append(1 + int(seed / (2**31 - 1) * 99))
        rows.append(row)
    return [list(job) for job in zip(*rows, strict=True)]


def test_a_proven_permutation_of_twenty_jobs_takes_as_long_as_is_printed() -> None:
    times = taillard(873654221, 20, 5)  # Taillard 1993, the first of twenty jobs and five machines (seed from memory)
    assert times[0] == [54, 79, 16, 66, 58]
    assert [row[0] for row in times][:8] == [54, 83, 15, 71, 77, 36, 53, 38]
    best = [16, 2, 14, 5, 7, 1, 12, 6, 10, 8, 13, 17, 15, 0, 4, 3, 18, 9, 19, 11]
    assert played(flow_shop(times), sequence=best) == 1278  # from memory; proven best apart from this code


@given(st.integers(0, 10**6), st.integers(1, 6), st.integers(1, 4))
def test_any_sequence_takes_as_long_as_the_recursion_says(seed: int, jobs: int, machines: int) -> None:
    rng = random.Random(seed)
    times = [[rng.randint(1, 300) for _ in range(machines)] for _ in range(jobs)]
    sequence = rng.sample(range(jobs), jobs)
    assert played(flow_shop(times), sequence=sequence) == by_recursion(times, sequence)


def one_oven(*steps: tuple[str, int, Oven]) -> Shop:
    """Make a shop with one oven: items, pieces, and how they go in; promised in this order."""
    items = [product(item, Step(1, "tempered", people=0, machines=("OVEN",), oven=oven)) for item, _, oven in steps]
    lines = tuple(Line(f"order {item}", item, pieces) for item, pieces, _ in steps)
    return always_open(*items, people=(), machines=(Machine("OVEN"),), lines=lines)


def loads(hours: list[int]) -> tuple[int, list[int]]:
    """Give the makespan in hours and the sizes of the loads of pieces that take so long, three to a load."""
    shop = one_oven(
        *((f"piece {n}", 1, Oven(1 / 3, took * HOUR, 0, "204", unattended=True)) for n, took in enumerate(hours))
    )
    return played(shop) // HOUR, [len(group) for group in propose(shop).groups]


def test_full_loads_of_the_longest_first_take_as_long_as_is_printed() -> None:
    times = [
        7,
        3,
        9,
        5,
        4,
        8,
        6,
    ]  # Bartholdi's rule as quoted by Lee, Uzsoy & Martin-Vega 1992 (from memory); 18 computed
    assert loads(sorted(times, reverse=True)) == (18, [3, 3, 1])
    assert loads(times) == (23, [3, 3, 1]), "in the order promised: a load takes as long as its slowest piece"


def test_pieces_of_different_temperatures_take_their_loads_one_after_the_other() -> None:
    """Uzsoy 1995 (from memory): the sum of n / B rounded up times t, here 4 loads and 8.75 hours."""
    kinds = [("a", 13, 2 * HOUR), ("b", 5, 3 * HOUR + 30), ("c", 8, HOUR + 15)]
    shop = one_oven(*((kind, n, Oven(1 / 8, 0, soak, kind, unattended=True)) for kind, n, soak in kinds))
    assert played(shop) == 8.75 * HOUR == 2 * 120 + 210 + 75
    assert len(propose(shop).groups) == 3, "thirteen pieces of one run are two loads after each other"
    parted = [("a", 8, 120, "a"), ("a2", 5, 120, "a"), ("b", 5, 210, "b"), ("c", 5, 75, "c"), ("c2", 3, 75, "c")]
    shop = one_oven(*((item, n, Oven(1 / 8, 0, soak, kind, unattended=True)) for item, n, soak, kind in parted))
    assert played(shop) == 8.75 * HOUR
    assert [len(group) for group in propose(shop).groups] == [1, 1, 1, 2]

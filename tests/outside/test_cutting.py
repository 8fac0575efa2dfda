"""Cut plans against published results for bars of one length, and what a textbook works out by hand.

Instances: the data sets of ESICUP, GitHub JeroenGar/datasets, folder 1d, commit 066edc5a3853582696d54d36aee380bb9496c7a6,
CC0 1.0; the file of each is named in data/classic_cuts.jsonl. Their proven optima: GitHub rafaelmartinelli/BPPLib.jl,
data/Bounds.zip, commit 2b30a3982059c99772789e59b65f470f2336d15b, MIT.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from inventory.calc.cut_problem import Buyable, Dual, Level, Order, Piece, Plan, Prices, Problem
from inventory.calc.cut_verifier import check
from tests.calc.cut_rules import cut, greedy, value
from tests.calc.cut_solving import planned
from tests.conftest import LONG

DATA = Path(__file__).parents[1] / "calc" / "data" / "classic_cuts.jsonl"
# A bound rounded up from linear programming never proves some of these, and the others take long: in the long run only.
HARD = {
    *("Falkenauer_t60_04", "Falkenauer_u250_00", "Waescher_TEST0022", "Waescher_TEST0054", "Hard28_BPP14"),
    *("Schwerin1_BPP1", "Schwerin2_BPP41", "N1W1B1R0"),
}


def one_length(name: str, bar: int, pieces: list[tuple[int, int]], kerf: int = 0) -> Problem:
    """Ask for the fewest bars: each costs 1, as many as wanted can be bought."""
    return Problem(
        (),
        tuple(Piece(length - kerf, count) for length, count in pieces),
        kerf=kerf,
        min_remnant=bar,
        prices=Prices(0, 0, 0),
        buyable=(Buyable("bar", bar - kerf, 1),),
        order=Order.STRICT,
        name=name,
    )


def published() -> Iterator[object]:
    for line in DATA.read_text("utf-8").splitlines():
        row = json.loads(line)
        marks = [pytest.mark.long] if row["name"] in HARD else []
        yield pytest.param(row["name"], row["bar"], row["pieces"], row["optimum"], id=row["name"], marks=marks)


def bars(plan: Plan) -> tuple[int, bool]:
    cost = next(row for row in plan.standings if row.level is Level.COST)
    return cost.value, cost.proven


@pytest.mark.parametrize(("name", "bar", "pieces", "optimum"), list(published()))
def test_the_fewest_bars_are_those_published(name: str, bar: int, pieces: list[tuple[int, int]], optimum: int) -> None:
    """A kerf of 1 with bar and pieces 1 shorter is the same question, so the published number holds for it too."""
    for kerf in (0, 1) if LONG else (1,):
        problem = one_length(name, bar, pieces, kerf)
        plan = planned(problem, 60 if name in HARD else 10)
        assert check(problem, plan).faults == ()
        assert not any(plan.missing)
        assert value(plan)["cost"] >= optimum, "under a proven optimum: the answer or the check is wrong"
        assert bars(plan) == (optimum, True)
        assert greedy(problem, shortest_first=True).standings[1].value >= optimum


# 97 pieces of 45, 610 of 36, 395 of 31 and 211 of 14 from bars of 100: the example of V. Chvatal, Linear Programming
# (1983), chapter 13, from memory: the linear program gives 452.25, 453 bars are enough.
RAWS = one_length("raws", 100, [(45, 97), (36, 610), (31, 395), (14, 211)])
OF_453 = [
    *[("bar", [0, 0])] * 48,
    ("bar", [0, 1, 3]),
    *[("bar", [1, 1, 3, 3])] * 105,
    *[("bar", [1, 1])] * 100,
    *[("bar", [1, 2, 2])] * 197,
    ("bar", [1, 1]),
    ("bar", [2]),
]


def test_the_textbook_prices_show_that_453_bars_are_needed() -> None:
    """Worths of 1/2, 1/2, 1/4 and 0: no bar of 100 is worth more than 1. 97/2 + 610/2 + 395/4 = 452.25, so 453."""
    plan = replace(cut(RAWS, OF_453), duals=(Dual(Level.COST, (2, 2, 1, 0), 4),))
    verdict = check(RAWS, plan)
    assert verdict.faults == ()
    assert [(row.value, row.certified) for row in verdict.figures if row.level is Level.COST] == [(453, 453)]


def test_the_planner_finds_453_bars() -> None:
    assert bars(planned(RAWS, 10)) == (453, True)


def test_the_rolls_of_the_encyclopedia_take_73() -> None:
    """Thirteen widths from rolls of 5600, the example of the article on the cutting stock problem in Wikipedia.

    From memory: 73 rolls are the fewest, 0.401 % is waste.
    """
    widths = "1380 22,1520 25,1560 12,1710 14,1820 18,1880 18,1930 20,2000 10,2050 12,2100 14,2140 16,2150 18,2200 20"
    pieces = [(int(width), int(count)) for width, count in (row.split() for row in widths.split(","))]
    problem = one_length("rolls", 5600, pieces)
    plan = planned(problem, 10)
    assert check(problem, plan).faults == ()
    assert bars(plan) == (73, True)
    assert round(100 * value(plan)["scrap"] / (73 * 5600), 3) == 0.401

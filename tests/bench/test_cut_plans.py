"""How many cut questions are solved and proven, how long it takes, and how far the rest may be from the best.

The sets are described in cut_data/README.md. One set alone: BICKERN_CUTS=rem ./deploy/test --long tests/bench/test_cut_plans.py
"""

import json
import os
import statistics
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from inventory.calc import cut_json, cut_verifier
from inventory.calc.cut_problem import Level, Order, Plan, Problem
from inventory.calc.cut_solver import solve

pytestmark = [pytest.mark.bench, pytest.mark.long]
DATA = Path(__file__).parent / "cut_data"
ONLY = os.environ.get("BICKERN_CUTS", "")
LIMITS = (0.1, 0.3, 1.0)


@dataclass(frozen=True)
class Answered:
    """A question with its line of the data, the answer, and what the verifier makes of its bounds."""

    row: Mapping[str, Any]
    problem: Problem
    plan: Plan
    certified: Mapping[Level, int | None]

    def value(self, level: Level) -> int:
        """Give the value of a level."""
        return next(one.value for one in self.plan.standings if one.level is level)

    def proven(self, *levels: Level) -> bool:
        """Say whether the levels are proven, each due date of SHORT among them."""
        return all(one.proven for one in self.plan.standings if one.level in levels)

    def gap(self, level: Level) -> float:
        """Give what is open on a level, in per cent of the length wanted."""
        mass = sum(piece.length * piece.count for piece in self.problem.pieces)
        one = next(one for one in self.plan.standings if one.level is level)
        return 100 * (one.value - (one.bound or 0)) / mass


def rows(kind: str) -> Iterator[dict[str, Any]]:
    name = "classic" if kind == "classic" else "shop"
    for line in (DATA / f"{name}.jsonl").read_text("utf-8").splitlines():
        row = json.loads(line)
        if kind == "classic" or row["name"].split("-")[0] == kind:
            yield row


def answer(row: Mapping[str, Any], limit: float, order: Order) -> Answered:
    problem = cut_json.read(json.dumps(row), order=order).problem
    plan = solve(problem, limit_seconds=limit)
    verdict = cut_verifier.check(problem, plan)
    assert verdict.faults == (), row["name"]
    assert plan.seconds <= limit + 1, row["name"]
    certified = {figure.level: figure.certified for figure in verdict.figures}
    return Answered(row, problem, plan, certified)


def table(capsys: pytest.CaptureFixture[str], title: str, answers: list[Answered], levels: tuple[Level, ...]) -> None:
    times = [one.plan.seconds for one in answers]
    with capsys.disabled():
        print(f"\n{title}: {len(answers)} questions, median {statistics.median(times):.2f} s, most {max(times):.2f} s")
        for level in levels:
            shown = [one for one in answers if one.proven(level)]
            open_ones = [one for one in answers if not one.proven(level)]
            worst = max((one.gap(level) for one in open_ones), default=0)
            by_duals = sum(one.certified.get(level) == one.value(level) for one in answers)
            print(
                f"  {level.value:10}{len(shown):4} proven, {by_duals:4} by numbers the verifier checks;"
                f" gap of the rest at most {worst:.3f} % of the length wanted"
            )
        for one in answers:
            if not one.proven(*levels):
                said = ", ".join(
                    f"{r.level.value} {r.value}/{r.bound}" for r in one.plan.standings if r.level in levels
                )
                print(f"  open: {one.row['name']} {said}")


def only(kind: str) -> None:
    if ONLY and kind != ONLY:
        pytest.skip(f"only {ONLY} is asked for")


@pytest.mark.parametrize("kind", ["few", "day"])
def test_the_strict_order_is_as_good_as_another_program_found(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    only(kind)
    answers = [answer(row, 30, Order.STRICT) for row in rows(kind)]
    table(capsys, f"{kind}, strict order", answers, (Level.SHORT, Level.FULL, Level.SCRAP))
    for one in answers:
        expected = {row["level"]: row["value"] for row in one.row.get("expected") or ()}
        if expected:
            names = ("short", "full", "scrap")
            found = [one.value(Level(name)) for name in names]
            assert found <= [expected[name] for name in names], one.row["name"]
        assert one.proven(Level.SHORT, Level.FULL, Level.SCRAP), one.row["name"]


def test_a_days_questions_are_proven_in_the_shops_own_order(capsys: pytest.CaptureFixture[str]) -> None:
    only("day")
    answers = [answer(row, 30, Order.ONE_PRICE) for kind in ("few", "day") for row in rows(kind)]
    table(capsys, "few and day", answers, (Level.SHORT, Level.COST, Level.LOSS, Level.LONGEST))
    assert all(one.proven(Level.SHORT, Level.COST, Level.LOSS) for one in answers)
    assert sum(one.proven(Level.LONGEST) for one in answers) >= 0.95 * len(answers)
    assert statistics.median(one.plan.seconds for one in answers) <= 2


def test_racks_full_of_remnants_are_proven(capsys: pytest.CaptureFixture[str]) -> None:
    only("rem")
    answers = [answer(row, 30, Order.ONE_PRICE) for row in rows("rem")]
    table(capsys, "rem", answers, (Level.SHORT, Level.COST, Level.LOSS, Level.LONGEST))
    assert sum(one.proven(Level.LOSS) for one in answers) >= 0.95 * len(answers)


def test_large_racks_are_mostly_proven_and_nowhere_far_from_it(capsys: pytest.CaptureFixture[str]) -> None:
    only("big")
    answers = [answer(row, 60, Order.ONE_PRICE) for row in rows("big")]
    table(capsys, "big", answers, (Level.SHORT, Level.COST, Level.LOSS, Level.LONGEST))
    assert sum(one.proven(Level.LOSS) for one in answers) >= 0.6 * len(answers)
    assert all(one.gap(Level.LOSS) <= 0.5 for one in answers)


def test_bars_of_one_length_are_as_few_as_are_known(capsys: pytest.CaptureFixture[str]) -> None:
    only("classic")
    answers = [answer(row, 30, Order.ONE_PRICE) for row in rows("classic")]
    table(capsys, "classic", answers, (Level.SHORT, Level.COST))
    hit = [one.value(Level.COST) == one.row["ub"] for one in answers]
    with capsys.disabled():
        print(f"  at the known best: {sum(hit)} of {len(hit)}; goal 95 in 100, and 93 in 100 proven")
    assert all(one.value(Level.COST) >= one.row["lb"] for one in answers), "below what is proven: a fault somewhere"
    assert sum(hit) >= 0.92 * len(hit)
    assert sum(one.proven(Level.COST) for one in answers) >= 0.90 * len(answers)


@pytest.mark.parametrize("limit", LIMITS)
def test_there_is_a_plan_at_every_limit(limit: float, capsys: pytest.CaptureFixture[str]) -> None:
    only("limit")
    kinds = ("few", "day", "rem", "big", "classic")
    answers = [answer(row, limit, Order.ONE_PRICE) for kind in kinds for row in list(rows(kind))[::3]]
    table(capsys, f"{limit} s", answers, (Level.SHORT, Level.COST, Level.LOSS))
    assert all(one.plan.bars for one in answers)

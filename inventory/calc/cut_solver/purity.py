"""Runs from one mill heat each: which run from which heat, by rule of thumb."""

import random
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import replace
from typing import Final

from inventory.calc.cut_solver.shape import Case, Heat

ROUNDS: Final = 10  # No source: ways to bind runs drawn at random after the thought-out ones


def bindings(case: Case, seed: int) -> Iterator[Case]:
    """Bind every run to a mill heat, in several ways.

    Args:
        case: the question.
        seed: for the ways that are drawn.

    Returns:
        The case with runs bound; the case itself where mill heats do not matter.
    """
    if not case.problem.one_heat:
        yield case
        return
    heats = sorted({group.heat for group in case.groups})
    runs = _masses(case)
    for tight in (True, False):
        yield bound(case, _spread(case, runs, heats, tight=tight))
    rng = random.Random(seed)  # noqa: S311 - draws plans to try, keeps no secret
    for _ in range(ROUNDS if heats else 0):
        yield bound(case, {run: rng.choice(heats) for run in runs})


def bound(case: Case, heat_of: Mapping[Hashable, Heat]) -> Case:
    """Give the case with runs bound to heats; what settled bars bind stays bound to those."""
    kinds = tuple(
        replace(kind, heats=frozenset({heat_of[kind.run]})) if kind.heats is None and kind.run in heat_of else kind
        for kind in case.kinds
    )
    return replace(case, kinds=kinds)


def _masses(case: Case) -> dict[Hashable, int]:
    """Sum each free run's steps; the earliest due and then the largest run first."""
    masses: dict[Hashable, int] = {}
    due: dict[Hashable, tuple[bool, str]] = {}
    for kind in case.kinds:
        if kind.heats is None:
            masses[kind.run] = masses.get(kind.run, 0) + kind.count * kind.step
            due[kind.run] = min(due.get(kind.run, (True, "~")), (kind.due == "", kind.due))
    return dict(sorted(masses.items(), key=lambda row: (due[row[0]], -row[1], str(row[0]))))


def _spread(case: Case, runs: Mapping[Hashable, int], heats: list[Heat], *, tight: bool) -> dict[Hashable, Heat]:
    """Put each run on the heat that has just enough steel left (or the most), on bought bars only where none has."""
    room = {heat: sum(group.end * group.count for group in case.groups if group.heat == heat) for heat in heats}
    chosen: dict[Hashable, Heat] = {}
    for run, mass in runs.items():
        if not heats:
            break
        enough = [heat for heat in heats if room[heat] >= mass]
        heat = min(enough, key=lambda heat: (heat[0], room[heat] if tight else -room[heat]), default=None)
        chosen[run] = heat or max(heats, key=lambda heat: room[heat])
        room[chosen[run]] -= mass
    return chosen

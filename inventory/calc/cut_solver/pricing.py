"""The cheapest cut of every group of bars by given duals: one table of fills for all bars that may give the same pieces."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from inventory.calc.cut_solver import fills
from inventory.calc.cut_solver.ask import Ask
from inventory.calc.cut_solver.bounds import Worths
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.fills import NEVER, Fills, Numbers
from inventory.calc.cut_solver.shape import Cut


@dataclass(frozen=True, slots=True)
class Priced:
    """What pricing found.

    Args:
        least: for each group the least that a bar can cost less its pieces' worth, over the scale; 0 where none fits.
        cuts: good cuts with what they cost so, the cheapest first.
    """

    least: tuple[int, ...]
    cuts: tuple[tuple[int, Cut], ...]


def families(ask: Ask) -> list[list[int]]:
    """Put groups together whose bars may give the same pieces to the same slots."""
    found: dict[tuple[int, ...], list[int]] = {}
    for group, row in enumerate(ask.at):
        found.setdefault(row, []).append(group)
    return list(found.values())


def wanted(ask: Ask, group: int) -> list[int]:
    """Give how many pieces of each kind a bar of a group may give at most."""
    pairs = zip(ask.case.kinds, ask.at[group], strict=True)
    return [0 if slot < 0 else kind.count for kind, slot in pairs]


def worths_of(ask: Ask, worths: Worths, group: int) -> list[int]:
    """Give what a piece of each kind is worth on a bar of a group."""
    return [0 if slot < 0 else worths.slots[slot] for slot in ask.at[group]]


def possible(ask: Ask) -> bool:
    """Say whether the tables are of a size to work with."""
    steps = [kind.step for kind in ask.case.kinds]
    for groups in families(ask):
        longest = max(ask.case.groups[group].end for group in groups)
        if not fills.table_fits(steps, wanted(ask, groups[0]), longest):
            return False
    return bool(ask.case.groups) and bool(steps)


def price(ask: Ask, worths: Worths, clock: Clock, more: int) -> Priced | None:
    """Find the cheapest cut of every group.

    Args:
        ask: the program.
        worths: duals.
        clock: time to stop.
        more: how many cuts to give beside the best of each group.

    Returns:
        What was found; None where time ran out.
    """
    case = ask.case
    steps = [kind.step for kind in case.kinds]
    least = [0] * len(case.groups)
    found: list[tuple[int, int, int, Fills]] = []
    for groups in families(ask):
        longest = max(case.groups[group].end for group in groups)
        table = fills.fill(steps, wanted(ask, groups[0]), worths_of(ask, worths, groups[0]), longest, clock)
        if table is None:
            return None
        for group in groups:
            if not ask.most[group]:
                continue
            offers = _offers(ask, worths, group, table, max(1, more // len(case.groups)))
            if offers:
                least[group] = min(value for value, _ in offers)
                found += [(value, group, at, table) for value, at in offers]
    found.sort(key=lambda row: row[:3])
    cuts = [(value, (group, table.counts(at, len(steps)))) for value, group, at, table in found if value < 0]
    return Priced(tuple(least), tuple(cuts))


def zones(ask: Ask, worths: Worths, group: int, grid: int, cells: int) -> Iterator[tuple[int, int, int, int]]:
    """Give the fills of a bar by what becomes of its rest.

    Args:
        ask: the program.
        worths: duals.
        group: of the bar.
        grid: units between fills.
        cells: of the table.

    Returns:
        First and last index (not included), cost at the first, and what each further index adds, over the scale.
    """
    case, bar = ask.case, worths.bar(ask, group)
    made = case.groups[group]
    scrap, remnant = worths.rest(ask)
    threshold, extra = worths.long(ask)
    end = min(made.end // grid, cells - 1) + 1
    kept = min(end, max(1, (made.room - case.keep) // grid + 1))
    long = min(kept, max(1, (made.room - threshold) // grid + 1)) if threshold else 1
    flush = min(end, max(kept, made.room // grid + 1))
    yield 1, long, bar + remnant + extra, 0
    yield long, kept, bar + remnant, 0
    yield kept, flush, bar + scrap * (made.room - kept * grid), -scrap * grid
    yield flush, end, bar, 0


def _offers(ask: Ask, worths: Worths, group: int, table: Fills, more: int) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for first, last, cost, slope in zones(ask, worths, group, table.grid, len(table.worth)):
        if first >= last:
            continue
        part: Numbers = cost - table.worth[first:last]
        if slope:
            part += slope * np.arange(last - first, dtype=np.int64)
        size = min(more, last - first)
        best = np.argpartition(part, size - 1)[:size] if size > 1 else [int(np.argmin(part))]
        found += [(int(part[at]), first + int(at)) for at in best if table.worth[first + int(at)] > NEVER // 2]
    return found


def grid_of(steps: Sequence[int]) -> int:
    """Give the units between fills."""
    return math.gcd(*steps) or 1

"""Every cut that a better plan can use: those whose cost by the duals is within what is open."""

import itertools
from collections.abc import Iterator, Sequence
from typing import Any, Final

import numpy as np

from inventory.calc.cut_solver import pricing
from inventory.calc.cut_solver.ask import Ask
from inventory.calc.cut_solver.bounds import Worths
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.fills import NEVER
from inventory.calc.cut_solver.shape import Counts, Cut

MOST_CELLS: Final = 16_000_000  # No source: tables of all kinds together, 128 MB


def cuts(ask: Ask, worths: Worths, least: Sequence[int], gap: int, most: int, clock: Clock) -> list[Cut] | None:
    """List the cuts that cost at most a gap more than the best of their group.

    Args:
        ask: the program.
        worths: duals.
        least: of each group, over the scale.
        gap: what is open between a better plan and the bound, over the scale.
        most: give up beyond so many.
        clock: give up when time is up.

    Returns:
        The cuts; None where there are more, or time ran out.

    Source: weak duality: a plan costs the bound and, for each bar, what its cut costs more than the least.
    """
    found: list[Cut] = []
    for groups in pricing.families(ask):
        tables = _tables(ask, worths, groups, clock)
        if tables is None:
            return None
        for group in groups:
            if not ask.most[group]:
                continue
            for counts in _of_group(ask, worths, group, tables, gap + min(0, least[group])):
                found.append((group, counts))
                if len(found) > most or (len(found) % 64 == 0 and clock.up()):
                    return None
    return found


def some(ask: Ask, worths: Worths, least: Sequence[int], gap: int, most: int, clock: Clock) -> list[Cut]:
    """List some of those cuts, equally many of each group where there are enough.

    Args:
        ask: the program.
        worths: duals.
        least: of each group, over the scale.
        gap: what is open, over the scale.
        most: how many in all.
        clock: stop when time is up.

    Returns:
        The cuts.
    """
    found: list[Cut] = []
    each = max(1, most // max(1, sum(1 for bars in ask.most if bars)))
    for groups in pricing.families(ask):
        tables = _tables(ask, worths, groups, clock)
        for group in groups:
            if tables is None or clock.up():
                return found
            if ask.most[group]:
                ways = _of_group(ask, worths, group, tables, gap + min(0, least[group]))
                found += [(group, counts) for counts in itertools.islice(ways, each)]
    return found


def _tables(ask: Ask, worths: Worths, groups: Sequence[int], clock: Clock) -> list[Any] | None:
    """For each kind, the most that fills of the kinds up to it are worth."""
    steps = [kind.step for kind in ask.case.kinds]
    grid = pricing.grid_of(steps)
    size = max(ask.case.groups[group].end for group in groups) // grid + 1
    if size * (len(steps) + 1) > MOST_CELLS:
        return None
    table = np.full(size, NEVER, dtype=np.int64)
    table[0] = 0
    tables = [table]
    counts, values = pricing.wanted(ask, groups[0]), pricing.worths_of(ask, worths, groups[0])
    for step, count, worth in zip(steps, counts, values, strict=True):
        table = table.copy()
        left, together, shift = min(count, (size - 1) * grid // step), 1, step // grid
        while left > 0:
            pieces = min(together, left)
            more = table[: -pieces * shift] + pieces * worth
            np.maximum(table[pieces * shift :], more, out=table[pieces * shift :])
            left, together = left - pieces, 2 * together
        if clock.up():
            return None
        tables.append(table)
    return tables


def _of_group(ask: Ask, worths: Worths, group: int, tables: Sequence[Any], most: int) -> Iterator[Counts]:
    grid = pricing.grid_of([kind.step for kind in ask.case.kinds])
    last = tables[-1]
    views = [memoryview(table) for table in tables]
    shifts = [kind.step // grid for kind in ask.case.kinds]
    values, counts = pricing.worths_of(ask, worths, group), pricing.wanted(ask, group)
    for first, end, cost, slope in pricing.zones(ask, worths, group, grid, len(last)):
        if first >= end:
            continue
        costs = cost + slope * np.arange(end - first, dtype=np.int64)
        for at in np.flatnonzero((costs - last[first:end] <= most) & (last[first:end] > NEVER // 2)):
            yield from _ways(views, shifts, counts, values, first + int(at), int(costs[at]) - most)


def _ways(
    views: Sequence[Any], shifts: Sequence[int], counts: Sequence[int], values: Sequence[int], fill: int, need: int
) -> Iterator[Counts]:
    """List the pieces that make a fill and are worth at least so much."""
    stack: list[tuple[int, int, int, Counts]] = [(len(shifts), fill, need, ())]
    while stack:
        kind, rest, need, tail = stack.pop()
        while kind and not rest:
            tail = (0,) * kind + tail
            kind = 0
        if not kind:
            yield tail
            continue
        kind -= 1
        view, shift, value = views[kind], shifts[kind], values[kind]
        stack += [
            (kind, rest - n * shift, need - n * value, (n, *tail))
            for n in range(min(counts[kind], rest // shift) + 1)
            if view[rest - n * shift] >= max(need - n * value, NEVER // 2)
        ]

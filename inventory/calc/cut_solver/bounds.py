"""Duals as whole numbers, and the bound they show, in whole numbers only."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from inventory.calc.cut_problem import Dual, Level
from inventory.calc.cut_solver.ask import Ask

FINEST: Final = 2**32  # No source: finer than HiGHS's own tolerance
ROOM: Final = 2**56  # No source: worths of a bar stay that far within 64 bits


@dataclass(frozen=True, slots=True)
class Worths:
    """Duals over `scale`: of a piece by slot, of a due date, of a line. Signs are those weak duality asks for."""

    scale: int
    slots: tuple[int, ...]
    dues: tuple[int, ...]
    lines: tuple[int, ...]

    def bar(self, ask: Ask, group: int) -> int:
        """Give what a bar of a group costs, over the scale, before pieces and rest."""
        pairs = zip(self.lines, ask.lines, strict=True)
        return self.scale * ask.goal.bars[group] - sum(worth * line.bars[group] for worth, line in pairs if worth)

    def rest(self, ask: Ask) -> tuple[int, int]:
        """Give what a unit of scrap costs and what a remnant does, over the scale."""
        pairs = [(worth, line) for worth, line in zip(self.lines, ask.lines, strict=True) if worth]
        scrap = self.scale * ask.goal.scrap - sum(worth * line.scrap for worth, line in pairs)
        return scrap, self.scale * ask.goal.remnant - sum(worth * line.remnant for worth, line in pairs)

    def long(self, ask: Ask) -> tuple[int, int]:
        """Give from what length on a remnant counts as long (0: never) and what that adds, over the scale."""
        for worth, line in zip(self.lines, ask.lines, strict=True):
            if line.long:
                return line.long, -worth
        return 0, 0


Limits = Sequence[tuple[int | None, int | None]]  # of each line


def limits_of(ask: Ask) -> list[tuple[int | None, int | None]]:
    """Give each line's own limits."""
    return [(line.low, line.high) for line in ask.lines]


def whole(
    ask: Ask, limits: Limits, slots: Sequence[float], dues: Sequence[float], lines: Sequence[float]
) -> Worths | None:
    """Round duals to whole numbers over a scale.

    Args:
        ask: the program.
        limits: of each line.
        slots: duals of the demand rows, goal units a piece.
        dues: of the due dates.
        lines: of the lines.

    Returns:
        Worths that give a bound; None where they are too large for whole numbers of 64 bits.
    """
    case = ask.case
    size = 2.0 + sum(case.kinds[kind].count * abs(worth) for kind, worth in zip(ask.slots, slots, strict=True))
    size += max(ask.goal.bars, default=0) + ask.goal.remnant + ask.goal.scrap * case.keep
    for worth, line in zip(lines, ask.lines, strict=True):
        most = max(map(abs, line.bars), default=0) + line.remnant + line.scrap * case.keep + 1
        size += abs(worth) * most
    if size > ROOM:
        return None
    scale = FINEST
    while scale > 1 and size * scale > ROOM:
        scale //= 2
    return Worths(
        scale,
        tuple(max(0, round(worth * scale)) if ask.loose else round(worth * scale) for worth in slots),
        tuple(min(0, round(worth * scale)) for worth in dues),
        tuple(_signed(round(worth * scale), *limit) for worth, limit in zip(lines, limits, strict=True)),
    )


def _signed(worth: int, low: int | None, high: int | None) -> int:
    if low is None:
        worth = min(0, worth)
    if high is None:
        worth = max(0, worth)
    return worth


def total(ask: Ask, limits: Limits, worths: Worths, least: Sequence[int]) -> int:
    """Work the bound out.

    Args:
        ask: the program.
        limits: of each line.
        worths: duals.
        least: for each group the least that a bar of it can cost less its pieces' worth, over the scale.

    Returns:
        No plan costs less: goal units over the scale.

    Source: weak linear programming duality (from memory; any textbook of linear programming).
    """
    case = ask.case
    slot = [case.kinds[kind].count * worth for kind, worth in zip(ask.slots, worths.slots, strict=True)]
    if ask.lack:
        due = [0] * len(slot)
        for (slots, _), worth in zip(ask.dues, worths.dues, strict=True):
            for number in slots:
                due[number] = worth
        for number, kind in enumerate(ask.slots):
            over = worths.scale * ask.lack[number] - worths.slots[number] - due[number]
            slot[number] += case.kinds[kind].count * min(0, over)
    chosen = {number for run in ask.runs for choice in run for number in choice}
    found = sum(worth for number, worth in enumerate(slot) if number not in chosen)
    found += sum(min(sum(slot[number] for number in choice) for choice in run) for run in ask.runs)
    found += sum(worth * most for worth, (_, most) in zip(worths.dues, ask.dues, strict=True))
    for worth, (low, high) in zip(worths.lines, limits, strict=True):
        limit = low if worth > 0 else high
        found += worth * limit if worth and limit is not None else 0
    return found + sum(most * min(0, value) for most, value in zip(ask.most, least, strict=True))


def certificate(ask: Ask, worths: Worths) -> Dual | None:
    """Write duals down for the verifier; it reads worths of pieces and of a full bar only.

    Args:
        ask: the program.
        worths: duals.

    Returns:
        The dual; None where the level is no sum, or scales are too coarse.
    """
    case = ask.case
    if ask.aim.level is Level.SHORT or ask.runs:
        return None
    piece = [0] * len(case.problem.pieces)
    for kind, worth in zip(ask.slots, worths.slots, strict=True):
        for index in case.kinds[kind].lines:
            piece[index] = worth
    full = tuple(int(group.full) for group in case.groups)
    opened = sum(
        worth
        for worth, line in zip(worths.lines[: ask.first_sum], ask.lines, strict=False)
        if line.bars == full and not line.scrap and not line.remnant
    )
    return Dual(ask.aim.level, _over_step(ask, piece), worths.scale, full=_over_step(ask, [opened])[0])


def _over_step(ask: Ask, row: Sequence[int]) -> tuple[int, ...]:
    return tuple(worth * ask.step for worth in row)

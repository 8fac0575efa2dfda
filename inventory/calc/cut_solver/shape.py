"""A question made ready for solving: equal lines merged, identical bars grouped, lengths divided by what they share.

A piece is reckoned with one kerf behind it: its `step`. A bar takes pieces whose steps come to no more than its `end`
(with the last kerf free to run out of the bar); its `room` less that is what they leave.
"""

import math
from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field

from inventory.calc.cut_problem import Buyable, Piece, Problem, Stock

Counts = tuple[int, ...]
Cut = tuple[int, Counts]  # group of bars, pieces of each kind
Cuts = Mapping[Cut, int]  # how many bars are cut in each way
Heat = tuple[bool, str]  # to be bought, else the mill heat number


@dataclass(frozen=True, slots=True)
class Kind:
    """Demand lines of one length (and due date, and run, where these matter).

    `step` in units of the case, `count` pieces not settled yet, `heats` those its run is bound to (None: not yet bound).
    """

    step: int
    count: int
    due: str
    run: Hashable
    heats: frozenset[Heat] | None
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Bars alike in all that matters, the oldest first; a length to buy is a group of its own. Units of the case."""

    room: int
    end: int
    full: bool
    bought: bool
    price: int
    heat: Heat
    count: int
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """A question ready for solving.

    `unit` is one length of the case in units of the problem, `keep` the shortest remnant, `by_due` whether due dates are
    told apart; where they are not, every piece is to be cut.
    """

    problem: Problem
    unit: int
    kerf: int
    keep: int
    kinds: tuple[Kind, ...]
    groups: tuple[Group, ...]
    by_due: bool
    rest: tuple[int, ...] = field(default=())  # pieces not settled, one number a demand line


def reduce(problem: Problem, *, by_due: bool = True) -> Case:
    """Make a question ready.

    Args:
        problem: the question.
        by_due: tell due dates apart.

    Returns:
        The case; bars too short for any piece are left out.
    """
    settled = Counter(index for lock in problem.locked for index in lock.pieces)
    rest = tuple(piece.count - settled[index] for index, piece in enumerate(problem.pieces))
    steps = [piece.length + problem.kerf for piece, count in zip(problem.pieces, rest, strict=True) if count]
    locked = {lock.stock for lock in problem.locked}
    bars: list[Stock | Buyable] = [bar for bar in problem.stock if bar.name not in locked]
    bars += [bar for bar in problem.buyable if bar.most != 0]
    bars = [bar for bar in bars if steps and _end(problem, bar) >= min(steps)]
    unit = math.gcd(*steps, *(bar.length - bar.trim for bar in bars)) or 1
    keep = max(problem.min_remnant, problem.tail_hold + 1)
    return Case(
        problem,
        unit,
        problem.kerf // unit,
        -(-keep // unit),
        _kinds(problem, rest, unit, by_due=by_due),
        _groups(problem, bars, unit, sum(rest)),
        by_due,
        rest,
    )


def _end(problem: Problem, bar: Stock | Buyable) -> int:
    room = bar.length - bar.trim
    return room - problem.tail_hold if problem.tail_hold else room + problem.kerf


def _kinds(problem: Problem, rest: Counts, unit: int, *, by_due: bool) -> tuple[Kind, ...]:
    lines: dict[tuple[int, str, Hashable], list[int]] = {}
    for index, piece in enumerate(problem.pieces):
        if rest[index]:
            run = run_of(problem, index)
            lines.setdefault((piece.length, piece.due if by_due else "", run), []).append(index)
    bound = bound_heats(problem)
    ordered = sorted(lines.items(), key=lambda row: (-row[0][0], row[0][1] == "", row[0][1], str(row[0][2])))
    return tuple(
        Kind(
            (length + problem.kerf) // unit,
            sum(rest[index] for index in indexes),
            due,
            run,
            bound.get(run),
            tuple(indexes),
        )
        for (length, due, run), indexes in ordered
    )


def run_of(problem: Problem, index: int) -> Hashable:
    """Give what tells a line's run from others; None where runs do not matter.

    Args:
        problem: the question.
        index: of the demand line.

    Returns:
        The run's text, or the index of a line that is a run of its own.
    """
    piece: Piece = problem.pieces[index]
    return (piece.run or index) if problem.one_heat else None


def bound_heats(problem: Problem) -> Mapping[Hashable, frozenset[Heat]]:
    """Give the mill heats that settled bars bind runs to.

    Args:
        problem: the question.

    Returns:
        Heats by run; a run without settled pieces is not in it. Empty where mill heats do not matter.
    """
    if not problem.one_heat:
        return {}
    heat = {bar.name: (False, bar.heat) for bar in problem.stock}
    bound: dict[Hashable, frozenset[Heat]] = {}
    for lock in problem.locked:
        for index in lock.pieces:
            run = run_of(problem, index)
            bound[run] = bound.get(run, frozenset()) | {heat[lock.stock]}
    return bound


def _groups(problem: Problem, bars: list[Stock | Buyable], unit: int, pieces: int) -> tuple[Group, ...]:
    alike: dict[tuple[int, bool, Heat], list[Stock]] = {}
    groups = []
    for bar in bars:
        room, end = (bar.length - bar.trim) // unit, _end(problem, bar) // unit
        if isinstance(bar, Buyable):
            most = pieces if bar.most is None else min(pieces, bar.most)
            groups.append(Group(room, end, True, True, bar.price, (True, ""), most, (bar.name,)))
        else:
            heat = (False, bar.heat if problem.one_heat else "")
            alike.setdefault((room, bar.full, heat), []).append(bar)
    for (room, full, heat), members in alike.items():
        members.sort(key=lambda bar: (-bar.age, bar.name))
        end = _end(problem, members[0]) // unit
        names = tuple(bar.name for bar in members)
        groups.append(Group(room, end, full, False, 0, heat, len(names), names))
    groups.sort(key=lambda group: (group.bought, group.full, group.room, group.heat, group.price, group.names))
    return tuple(groups)

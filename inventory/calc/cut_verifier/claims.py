"""What a plan claims of its levels, against what they are."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from inventory.calc.cut_problem import Level, Plan, Problem, Standing
from inventory.calc.cut_verifier.verdict import Figure

Row = tuple[Level, str, int]


def wrong_claims(problem: Problem, plan: Plan, rows: Sequence[Row]) -> Iterator[str]:
    """Name levels a plan states wrongly.

    Args:
        problem: the question.
        plan: the answer.
        rows: level, due date and value of each level, worked out anew.

    Returns:
        One sentence a fault: a level left out, given twice or out of order, a value that differs, a bound above the
        value, a proof without an equal bound. SHORT of a date nobody wants pieces for may stand or be left out.
    """
    wanted = {piece.due for piece in problem.pieces if piece.count}
    stated = [(row.level, row.due) for row in plan.standings if row.level is not Level.SHORT or row.due in wanted]
    real = [(level, due) for level, due, _ in rows if level is not Level.SHORT or due in wanted]
    if stated != real:
        yield f"The plan gives its levels as {_names(stated)}; they are {_names(real)}."
    value = {(level, due): value for level, due, value in rows}
    for row in plan.standings:
        yield from _wrong(row, value.get((row.level, row.due), 0))


def _wrong(row: Standing, value: int) -> Iterator[str]:
    name = _name(row.level, row.due)
    if row.value != value:
        yield f"Level {name}: the plan states {row.value}, the cuts make {value}."
    if row.bound is not None and row.bound > value:
        yield f"Level {name}: no plan should be under {row.bound}, and this one is at {value}."
    if row.proven and row.bound != row.value:
        yield f"Level {name}: {row.value} is called proven with the bound {row.bound}."


def uncertified(plan: Plan, figures: Sequence[Figure]) -> Iterator[str]:
    """Name bounds above what the plan's duals show.

    Args:
        plan: the answer.
        figures: with the certified bounds.

    Returns:
        One sentence a bound.
    """
    shown = {(figure.level, figure.due): figure.certified for figure in figures}
    for row in plan.standings:
        certified = shown.get((row.level, row.due))
        if row.bound is not None and (certified is None or row.bound > certified):
            shows = "nothing" if certified is None else certified
            yield f"Level {_name(row.level, row.due)}: bound {row.bound} is not certified by duals, they show {shows}."


def restate(plan: Plan, rows: Sequence[Row]) -> Plan:
    """Put the values worked out anew in place of the stated ones.

    Args:
        plan: the answer.
        rows: level, due date and value of each level.

    Returns:
        The plan with these levels. A bound is kept while all values before it were stated rightly (it holds with those
        fixed), and a value is proven only where its bound equals it.
    """
    stated = {(row.level, row.due): row for row in plan.standings}
    standings = []
    right = True
    for level, due, value in rows:
        row = stated.get((level, due))
        bound = row.bound if row and right else None
        standings.append(Standing(level, value, bound, proven=bound == value, due=due))
        right = right and row is not None and row.value == value
    return replace(plan, standings=tuple(standings))


def _name(level: Level, due: str) -> str:
    return f"{level.value} by {due}" if due else level.value


def _names(keys: Sequence[tuple[Level, str]]) -> str:
    return ", ".join(_name(level, due) for level, due in keys) or "none"

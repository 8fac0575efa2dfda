"""Cut plans as lines of JSON, written completely."""

from typing import Any

from inventory.calc.cut_problem import Plan, Problem


def written(problem: Problem, plan: Plan) -> dict[str, Any]:
    """Write a plan down, its standings as they stand (the verifier's).

    Args:
        problem: the question.
        plan: the answer.

    Returns:
        What goes into one line of JSON; item numbers from 1, lengths in the question's unit.
    """
    return {
        "name": problem.name,
        "bars": [
            {
                "bar": one.source,
                "bought": one.bought,
                "items": [index + 1 for index in one.pieces],
                "lengths": [problem.pieces[index].length for index in one.pieces],
                "left": one.left,
                "remnant": one.remnant,
            }
            for one in plan.bars
        ],
        "missing": _missing(problem, plan),
        "levels": [
            {
                "level": row.level.value,
                **({"due": row.due} if row.due else {}),
                "value": row.value,
                "bound": row.bound,
                "proven": row.proven,
            }
            for row in plan.standings
        ],
        "complete": plan.complete,
        "method": plan.method,
        "seconds": round(plan.seconds, 3),
    }


def _missing(problem: Problem, plan: Plan) -> list[dict[str, Any]]:
    """Name what cannot be cut and the least length of bar that would give it."""
    found = []
    for index, (piece, count) in enumerate(zip(problem.pieces, plan.missing, strict=True), 1):
        if count:
            need = count * piece.length + (count - 1) * problem.kerf + problem.tail_hold
            found.append({"item": index, "length": piece.length, "count": count, "bar_needed": need})
    return found

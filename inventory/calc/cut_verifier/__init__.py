"""Checks a cut plan without trusting whoever made it: replays the saw, counts anew, works bounds out anew.

Nothing here knows how plans are made, and all of it is arithmetic of whole numbers.
"""

from collections.abc import Sequence

from inventory.calc.cut_problem import Dual, Level, Plan, Problem
from inventory.calc.cut_verifier import claims, duals, levels, replaying
from inventory.calc.cut_verifier.claims import Row
from inventory.calc.cut_verifier.verdict import Figure, Verdict

__all__ = ["Figure", "Verdict", "check", "restated"]


def check(problem: Problem, plan: Plan) -> Verdict:
    """Check a plan against its question.

    Args:
        problem: the question.
        plan: the answer.

    Returns:
        Every fault in one sentence each, bounds no dual shows, and each level's value and certified bound.

    Source: none; the rules are those of cut_problem.
    """
    sawn, faults = replaying.replay_all(problem, plan)
    if len(sawn) < len(plan.bars):
        return Verdict(tuple(faults), (), ())
    rows = levels.values(problem, sawn)
    uncut = bool(faults)
    faults += claims.wrong_claims(problem, plan, rows)
    bad = [sentence for dual in plan.duals if (sentence := duals.fault(problem, dual))]
    notes = [sentence for dual in plan.duals if (sentence := duals.useless(problem, dual))]
    figures = _figures(problem, () if uncut or bad else plan.duals, rows)
    return Verdict((*faults, *bad), (*notes, *claims.uncertified(plan, figures)), figures)


def restated(problem: Problem, plan: Plan) -> Plan:
    """Put the verifier's own values in place of those the plan states.

    Args:
        problem: the question.
        plan: the answer.

    Returns:
        The plan with every level's value counted anew; proven only where the bound equals that value.

    Raises:
        ValueError: a bar of the plan cannot be replayed; `check` says which and why.
    """
    sawn, faults = replaying.replay_all(problem, plan)
    if len(sawn) < len(plan.bars):
        raise ValueError(faults[0])
    return claims.restate(plan, levels.values(problem, sawn))


def _figures(problem: Problem, given: Sequence[Dual], rows: Sequence[Row]) -> tuple[Figure, ...]:
    best: dict[Level, int] = {}
    for dual in given:
        bound = None if duals.useless(problem, dual) else duals.certify(problem, dual, rows)
        if bound is not None:
            best[dual.level] = max(best.get(dual.level, bound), bound)
    figures = []
    for level, due, value in rows:
        floor = None if level is Level.LONGEST else 0  # all but the longest remnant, a negative, count from nothing
        shown = [bound for bound in (floor, best.get(level)) if bound is not None]
        figures.append(Figure(level, due, value, max(shown, default=None)))
    return tuple(figures)

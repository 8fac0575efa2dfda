"""The worker's part of a cut plan: work it out, tell the best so far on the way, keep what the verifier says of it."""

import datetime as dt
import time
from dataclasses import replace

from inventory.calc import cut_solver, cut_verifier
from inventory.calc.cut_problem import Order, Plan, Problem
from inventory.models import CutPlan
from inventory.queries import cut_question
from inventory.queries.cut_question import Kept
from inventory.services import cut_planning, delivery_lines
from shop.shared import clock, transactions
from shop.shared.jobs import Payload

_TELL_EVERY = 0.7  # seconds; the page looks every two
_OTHER_ORDER = 0.3  # of the time, for the strict order
_METRE_NM = 10**9


def work(payload: Payload, at: dt.datetime) -> None:
    """Answer one question; it may have been dropped meanwhile, and the same job may come twice."""
    plan = CutPlan.objects.select_related("item__grade", "item__section").filter(pk=payload["plan"]).first()
    if plan is None or plan.state != CutPlan.State.ASKED:
        return
    asked = cut_question.problem(plan)
    first = _answer(asked, plan.seconds * (1 - _OTHER_ORDER), _Teller(plan.pk, asked))
    other = _answer(replace(asked, order=Order.STRICT), plan.seconds * _OTHER_ORDER, None)
    answers = [first, other] if cut_question.differ(first, other, _mg_per_metre(plan)) else [first]
    with transactions.entry_point():
        cut_planning.answered(plan.pk, answers, at=max(at, clock.now()))


class _Teller:
    """Writes the best plan so far, not more often than the page looks."""

    def __init__(self, plan_id: int, asked: Problem) -> None:
        self.plan_id, self.asked, self.told = plan_id, asked, 0.0

    def __call__(self, found: Plan) -> None:
        if time.monotonic() - self.told >= _TELL_EVERY:
            self.told = time.monotonic()
            with transactions.entry_point():
                cut_planning.better(self.plan_id, cut_question.kept(self.asked, found))


def _answer(asked: Problem, seconds: float, tell: _Teller | None) -> Kept:
    found = cut_solver.solve(asked, limit_seconds=seconds, on_better=tell)
    verdict = cut_verifier.check(asked, found)
    if verdict.faults:
        raise RuntimeError(f"The planner's answer to {asked.name} is wrong: {verdict.faults[0]}")
    return cut_question.kept(asked, cut_verifier.restated(asked, found))


def _mg_per_metre(plan: CutPlan) -> int:
    grade, section = plan.item.grade, plan.item.section
    if grade is None or section is None:
        raise RuntimeError("A bar item has a grade and a section.")
    return delivery_lines.mass_of(section, _METRE_NM, grade.density_ug_per_cm3)

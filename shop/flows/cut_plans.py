"""Cut plans from the question to the saw: asked, worked out by the worker, taken, sawn bar by bar, or dropped."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.models import CutPlan, CutPlanBar, CutPlanLine
from inventory.queries import cut_question
from inventory.services import cut_asking, cut_planning, cutting
from inventory.services.cut_asking import Question
from inventory.services.cut_planning import PlanHasMovedOn
from inventory.services.cutting import Blanks, SawJob
from inventory.services.ledger import Stamp
from inventory.services.reading import BarLength
from orders.services import reserving
from shop.access.actor import Actor
from shop.flows.sawing import CutDone, done_with
from shop.shared import jobs, transactions
from shop.shared.errors import Invalid, NotFound
from shop.shared.units import as_taped

JOB = "cut plan"


@dataclass(frozen=True, slots=True)
class AtTheSaw:
    """What was done to one bar of a plan; nothing but its number is as drawn.

    `good` is how many blanks of each line (by its number) came off well, `left` what the tape says is left, `scrap` that
    what is left is thrown away.
    """

    bar: str
    good: Mapping[int, int] | None = None
    left: BarLength | None = None
    scrap: bool = False


def ask(question: Question, *, at: dt.datetime, by: Actor) -> CutPlan:
    """Ask for a plan; the worker begins at once."""
    transactions.assert_open()
    plan = cut_asking.ask(question, at=at, by=by)
    jobs.add(JOB, str(plan.number), at, {"plan": plan.pk})
    return plan


def take(number: int, choice: int, *, version: int | None, at: dt.datetime, by: Actor) -> list[CutPlanBar]:
    """Take an answer of a plan: its bars are looked at again and set aside."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({_item_of(number)}, at=at)
    plan = cut_planning.locked(number, version)
    return cut_planning.take(locks, plan, choice, by=by)


def sawn(number: int, done: Sequence[AtTheSaw], *, version: int | None, stamp: Stamp) -> list[CutDone]:
    """Book bars of a plan that were sawn, as drawn or otherwise."""
    transactions.assert_open()
    blanks = set(CutPlanLine.objects.filter(plan__number=number).values_list("blank_id", flat=True))
    locks = reserving.lock_and_tidy({_item_of(number)} | blanks, at=stamp.at)
    plan = cut_planning.locked(number, version)
    if plan.state != CutPlan.State.TAKEN:
        raise PlanHasMovedOn(f"Cut plan {number} is {plan.state}; only a plan that was taken is sawn.")
    if not done:
        raise Invalid.field("bars", "Bars: name at least one bar of the plan.")
    lines = {line.number: line for line in cut_question.lines_of(plan)}
    made = []
    for one in done:
        bar = _bar_of(plan, one.bar)
        cut_planning.release(locks, bar)
        cut = cutting.cut(bar.bar, _job(plan, bar, lines, one), locks=locks, stamp=stamp)
        cut_planning.sawn(bar, cut, at=stamp.at)
        made.append(cut)
    served = reserving.serve_waiting(locks)
    return [done_with(cut, () if n else served) for n, cut in enumerate(made)]


def leave_alone(number: int, bar: str, *, version: int | None, at: dt.datetime) -> CutPlanBar:
    """Let one bar of a plan go unsawn."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({_item_of(number)}, at=at)
    found = _bar_of(cut_planning.locked(number, version), bar)
    cut_planning.leave_alone(locks, found)
    return found


def drop(number: int, *, version: int | None, at: dt.datetime, by: Actor) -> int:
    """Give a plan up; return how many bars are let go."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({_item_of(number)}, at=at)
    return cut_planning.drop(locks, cut_planning.locked(number, version), by=by)


def _item_of(number: int) -> int:
    item_id = CutPlan.objects.filter(number=number).values_list("item_id", flat=True).first()
    if item_id is None:
        raise NotFound(f"There is no cut plan {number}.", {"plan": "There is no such plan."})
    return item_id


def _bar_of(plan: CutPlan, number: str) -> CutPlanBar:
    found = plan.bars.select_related("bar__lot__item__grade", "bar__section", "plan", "allocation")
    bar = found.filter(bar__number=number.strip().upper()).first()
    if bar is None:
        known = ", ".join(plan.bars.order_by("pk").values_list("bar__number", flat=True))
        raise Invalid.field("bar", f"Bar: {number.strip()[:10]} is not in plan {plan.number}; {known} would work.")
    return bar


def _job(plan: CutPlan, bar: CutPlanBar, lines: Mapping[int, CutPlanLine], one: AtTheSaw) -> SawJob:
    """Return what the saw did; a spoiled blank and its cut go to scrap with the mill end."""
    drawn = Counter(bar.pieces)
    good = drawn if one.good is None else Counter(dict(one.good))
    wrong = [number for number, count in good.items() if not 0 <= count <= drawn[number]]
    if wrong:
        number = wrong[0]
        name = lines[number].blank.name if number in lines else f"line {number}"
        raise Invalid.field(
            "good", f"Good blanks: {drawn[number]} of {name} are drawn on bar {bar.bar.number}, or fewer."
        )
    spoiled = {number: count - good[number] for number, count in drawn.items() if count > good[number]}
    gone = sum(spoiled.values())
    trim = bar.trim_nm + sum(lines[number].piece_nm * count for number, count in spoiled.items())
    trim += max(0, gone - (0 if bar.trim_nm else 1)) * plan.kerf_nm
    left, scrap = _left(bar, one)
    return SawJob(plan.kerf_nm, _blanks(lines, good), trim_nm=trim, left=left, scrap=scrap)


def _left(bar: CutPlanBar, one: AtTheSaw) -> tuple[Sequence[BarLength], bool]:
    if one.left is not None:
        return [one.left], False
    if one.scrap or not bar.kept:
        return (), True
    if one.good is None:
        return [BarLength(bar.left_nm, as_taped(bar.left_nm))], False
    raise Invalid.field("left", f"Left: tape what is left of bar {bar.bar.number}, or say that it is scrap.")


def _blanks(lines: Mapping[int, CutPlanLine], good: Counter[int]) -> list[Blanks]:
    """Gather lines of one kind of blank: the book has one row a kind."""
    counts: Counter[int] = Counter()
    for number, count in good.items():
        counts[lines[number].blank_id] += count
    blanks = {line.blank_id: line for line in lines.values()}
    return [Blanks(blanks[pk].blank, count, blanks[pk].piece_nm) for pk, count in counts.items() if count]

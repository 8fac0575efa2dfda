"""Cut plans in the book: answered, taken with each bar set aside, and let go again. No stock moves here."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import F

from inventory.models import Cut, CutPlan, CutPlanBar, Holding
from inventory.queries import cuttable
from inventory.services import allocating
from inventory.services.ledger import Locks
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound, Refusal, Stale
from shop.shared.units import as_taped

State = CutPlan.State


class PlanHasMovedOn(Refusal):
    """The plan is not at the point where this can be done."""

    code = "plan_has_moved_on"


class RackHasChanged(Refusal):
    """A bar of the plan is not as it was when the plan was made."""

    code = "rack_has_changed"


def better(plan_id: int, found: Mapping[str, Any]) -> None:
    """Note the best plan so far; nothing where the question was dropped meanwhile."""
    CutPlan.objects.filter(pk=plan_id, state=State.ASKED).update(so_far=found)


def answered(plan_id: int, answers: Sequence[Mapping[str, Any]], *, at: dt.datetime) -> bool:
    """Write the answers down; say whether the question still stood."""
    transactions.assert_open()
    changed = CutPlan.objects.filter(pk=plan_id, state=State.ASKED).update(
        state=State.ANSWERED, answers=list(answers), so_far=None, answered_at=at, version=F("version") + 1
    )
    return changed == 1


def locked(number: int, version: int | None = None) -> CutPlan:
    """Return a plan with its row locked; refuse where somebody else has gone on with it."""
    transactions.assert_open()
    changed = CutPlan.objects.filter(number=number).update(version=F("version") + 1)
    if not changed:
        raise NotFound(f"There is no cut plan {number}.", {"plan": "There is no such plan."})
    plan = CutPlan.objects.select_related("item__grade", "item__section", "blade").get(number=number)
    if version is not None and plan.version != version + 1:
        raise Stale(f"Cut plan {number} has changed since you looked; look at it again.")
    return plan


def take(locks: Locks, plan: CutPlan, choice: int, *, by: Actor) -> list[CutPlanBar]:
    """Set the bars of an answer aside, after looking at each again; all of them or none."""
    if plan.state != State.ANSWERED:
        raise PlanHasMovedOn(f"Cut plan {plan.number} is {plan.state}; only one that is answered can be taken.")
    if not 0 <= choice < len(plan.answers):
        raise Invalid.field("answer", f"Answer: plan {plan.number} has {len(plan.answers)}; 1 is the first.")
    rows = [row for row in plan.answers[choice]["bars"] if not row["bought"]]
    if not rows:
        raise RackHasChanged(f"Cut plan {plan.number} saws no bar that is on the rack; buy the steel, then ask anew.")
    standing = [_as_planned(plan, row) for row in rows]
    plan.chosen, plan.state, plan.taken_at = choice, State.TAKEN, locks.at
    plan.save(update_fields=["chosen", "state", "taken_at"])
    bars = []
    for row, holding in zip(rows, standing, strict=True):
        allocation = allocating.open_allocation(at=locks.at)
        allocating.add_lots(locks, allocation, [holding])
        bars.append(
            CutPlanBar.objects.create(
                plan=plan,
                bar=holding.lot.bar,
                pieces=row["pieces"],
                length_nm=row["length_nm"],
                trim_nm=plan.trim_nm if row["trim_nm"] else 0,
                left_nm=row["left_nm"],
                kept=row["kept"],
                allocation=allocation,
            )
        )
    _audit(plan, "cut plan taken", locks.at, by, {"bars": [bar.bar.number for bar in bars]})
    return bars


def _as_planned(plan: CutPlan, row: Mapping[str, Any]) -> Holding:
    """Return what stands of a bar, or refuse where it is not as the plan was made for."""
    anew = f"ask for plan {plan.number} anew."
    holding = (
        Holding.objects.filter(lot__bar__number=row["bar"], on_hand__gt=0)
        .select_related("lot__bar", "lot__item", "place")
        .first()
    )
    if holding is None:
        raise RackHasChanged(f"Bar {row['bar']} is gone since the plan was made; {anew}")
    why = cuttable.why_not(holding.lot.bar)
    if why:
        raise RackHasChanged(f"{why} Or {anew}")
    if holding.on_hand != row["length_nm"]:
        was, now = as_taped(row["length_nm"]), as_taped(holding.on_hand)
        raise RackHasChanged(f"Bar {row['bar']} was {was} when the plan was made and is {now}; {anew}")
    return holding


def release(locks: Locks, bar: CutPlanBar) -> None:
    """Let go of a bar so that the saw may take it; what became of it is written by `sawn` or `left_alone`."""
    if bar.state != CutPlanBar.State.TO_SAW or bar.allocation is None:
        raise PlanHasMovedOn(f"Bar {bar.bar.number} is {bar.state} in plan {bar.plan.number}.")
    allocating.let_go_all(locks, bar.allocation)


def sawn(bar: CutPlanBar, cut: Cut, *, at: dt.datetime) -> None:
    """Write down that a bar of a plan was sawn by this cut."""
    _become(bar, CutPlanBar.State.SAWN, cut)
    close_if_done(bar.plan, at=at)


def leave_alone(locks: Locks, bar: CutPlanBar) -> None:
    """Let a bar go that the plan will not saw."""
    release(locks, bar)
    _become(bar, CutPlanBar.State.LEFT, None)
    close_if_done(bar.plan, at=locks.at)


def _become(bar: CutPlanBar, state: str, cut: Cut | None) -> None:
    bar.state, bar.cut, bar.allocation = state, cut, None
    bar.save(update_fields=["state", "cut", "allocation"])


def close_if_done(plan: CutPlan, *, at: dt.datetime) -> None:
    """End a plan of which no bar is left to saw: sawn, or dropped where none was."""
    if plan.bars.filter(state=CutPlanBar.State.TO_SAW).exists():
        return
    some = plan.bars.filter(state=CutPlanBar.State.SAWN).exists()
    plan.state, plan.ended_at = (State.SAWN if some else State.DROPPED), at
    plan.save(update_fields=["state", "ended_at"])


def drop(locks: Locks, plan: CutPlan, *, by: Actor) -> int:
    """Give a plan up: bars not sawn yet are let go; return how many. What was sawn stays sawn."""
    if plan.state in {State.SAWN, State.DROPPED}:
        raise PlanHasMovedOn(f"Cut plan {plan.number} is {plan.state} already; there is nothing to drop.")
    waiting = list(plan.bars.filter(state=CutPlanBar.State.TO_SAW).select_related("bar", "plan", "allocation"))
    for bar in waiting:
        release(locks, bar)
        _become(bar, CutPlanBar.State.LEFT, None)
    plan.refresh_from_db()
    close_if_done(plan, at=locks.at)
    _audit(plan, "cut plan dropped", locks.at, by, {"let_go": [bar.bar.number for bar in waiting]})
    return len(waiting)


def gave_way(allocation_ids: Sequence[int], *, at: dt.datetime) -> None:
    """Follow allocations that were let go because their bar is lost: the plan leaves that bar alone."""
    lost = CutPlanBar.objects.filter(allocation__in=allocation_ids, state=CutPlanBar.State.TO_SAW)
    for bar in lost.select_related("plan"):
        _become(bar, CutPlanBar.State.LEFT, None)
        close_if_done(bar.plan, at=at)


def cut_undone(cut: Cut) -> None:
    """Follow a cut that was taken back: the bar stands whole again and is no longer of the plan."""
    for bar in CutPlanBar.objects.filter(cut=cut).select_related("plan"):
        _become(bar, CutPlanBar.State.LEFT, None)


def _audit(plan: CutPlan, action: str, at: dt.datetime, by: Actor, after: Mapping[str, object]) -> None:
    audit.write(at=at, by=by.label, action=action, subject=f"cut plan {plan.number}", after=dict(after))

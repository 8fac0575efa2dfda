"""A cut plan as the planner reads it: the bars that may be sawn now, what is wanted, the saw; and answers as they are kept."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from inventory.calc.cut_problem import Buyable, CutBar, Level, Order, Piece, Plan, Prices, Problem, Stock
from inventory.models import CutPlan, CutPlanLine, CutRules, Holding, Place
from inventory.queries import cuttable

Kept = dict[str, Any]
"""A plan as a row keeps it: bars with their pieces by line number, what is missing, how good it is; lengths in nm."""

MORE_STEEL_MG = 1_000_000  # a kilogram: less than that nobody changes his plan for


def rules() -> CutRules:
    """Return how the shop plans its cuts; the usual where nothing was set."""
    return CutRules.objects.filter(pk=1).first() or CutRules()


def lines_of(plan: CutPlan) -> list[CutPlanLine]:
    """Return what is wanted, in the order asked."""
    return list(plan.lines.select_related("blank").order_by("number"))


def bars_for(plan: CutPlan) -> list[Holding]:
    """Return the bars that may be sawn for a plan: taped, on the rack, free, no paper against them."""
    there = Holding.objects.filter(
        item=plan.item_id, on_hand__gt=0, allocated=0, place__kind=Place.Kind.RACK, lot__bar__measured=True
    )
    found = list(there.select_related("lot__bar", "lot__melt").order_by("lot_id"))
    held = cuttable.melts_held({one.lot.melt_id for one in found if one.lot.melt_id})
    return [one for one in found if one.lot.melt_id not in held]


def problem(plan: CutPlan, *, order: Order = Order.ONE_PRICE) -> Problem:
    """Return the question as the planner reads it, lengths in nm; a bar without a parent is a full bar."""
    trim = plan.trim_nm + plan.kerf_nm if plan.trim_nm else 0
    return Problem(
        stock=tuple(_stock(one, trim, plan.asked_at) for one in bars_for(plan)),
        pieces=tuple(_piece(line) for line in lines_of(plan)),
        kerf=plan.kerf_nm,
        min_remnant=plan.min_remnant_nm,
        prices=Prices(plan.remnant_price_nm, plan.handled_price_nm, plan.full_price_nm),
        buyable=tuple(
            Buyable(f"to buy {number}", one["nm"], one["price_minor"], trim)
            for number, one in enumerate(plan.buyable, 1)
        ),
        tail_hold=plan.tail_hold_nm,
        one_heat=plan.one_heat,
        order=order,
        name=f"cut plan {plan.number}",
    )


def _stock(holding: Holding, trim: int, at: dt.datetime) -> Stock:
    full = holding.lot.bar.parent_id is None
    melt = holding.lot.melt
    return Stock(
        name=holding.lot.bar.number,
        length=holding.on_hand,
        full=full,
        trim=trim if full else 0,
        heat=str(melt.pk) if melt is not None and melt.known else "",
        age=max(0, (at - holding.lot.born_at).days),
    )


def _piece(line: CutPlanLine) -> Piece:
    return Piece(line.piece_nm, line.count, line.due.isoformat() if line.due else "", line.blank.code)


def kept(asked: Problem, found: Plan) -> Kept:
    """Return a plan as the row keeps it; its standings are to be the verifier's."""
    bars = {bar.name: bar for bar in asked.stock} | {bar.name: bar for bar in asked.buyable}
    return {
        "order": asked.order.value,
        "bars": [
            _bar(one, bars[one.source].length, bars[one.source].trim, full=one.bought or _full(bars[one.source]))
            for one in found.bars
            if one.pieces
        ],
        "missing": list(found.missing),
        "standings": [
            {"level": s.level.value, "due": s.due, "value": s.value, "bound": s.bound, "proven": s.proven}
            for s in found.standings
        ],
        "complete": found.complete,
        "seconds": round(found.seconds, 2),
    }


def _full(bar: Stock | Buyable) -> bool:
    return isinstance(bar, Stock) and bar.full


def _bar(one: CutBar, length: int, trim: int, *, full: bool) -> Kept:
    return {
        "bar": one.source,
        "bought": one.bought,
        "full": full,
        "length_nm": length,
        "trim_nm": trim,
        "pieces": [index + 1 for index in one.pieces],
        "left_nm": one.left,
        "kept": one.remnant,
    }


def thrown_nm(answer: Mapping[str, Any]) -> int:
    """Return the length of the scrap ends of an answer."""
    return sum(row["left_nm"] for row in answer["bars"] if not row["kept"])


def differ(one: Mapping[str, Any], other: Mapping[str, Any], mg_per_metre: int) -> bool:
    """Say whether two answers differ in what somebody at the saw cares about: more than a kilogram, or a bar."""
    thrown = abs(thrown_nm(one) - thrown_nm(other)) * mg_per_metre // 10**9
    return thrown > MORE_STEEL_MG or any(_count(one, what) != _count(other, what) for what in ("handled", "full"))


def _count(answer: Mapping[str, Any], what: str) -> int:
    return sum(1 for row in answer["bars"] if what == "handled" or row["full"])


def gap(answer: Mapping[str, Any], level: Level) -> tuple[int, int | None, bool]:
    """Return value, bound and whether it is proven of a level of an answer."""
    row = next(row for row in answer["standings"] if row["level"] == level.value)
    return row["value"], row["bound"], row["proven"]


def plans(states: Sequence[str]) -> list[CutPlan]:
    """Return the plans in these states, the newest first."""
    return list(CutPlan.objects.filter(state__in=states).select_related("item").order_by("-number")[:100])

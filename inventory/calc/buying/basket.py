"""The basket: what is due in sensible quantities, what joins it, and what is raised or cut, each with its reason."""

import math
from collections.abc import Sequence

from inventory.calc.buying import joint, limits, raising
from inventory.calc.buying.draft import MOST_COVER, Draft
from inventory.calc.buying.terms import YEAR_DAYS, Basket, Limits, Terms, Wanted, Why

JOIN = 0.5  # of the cover: what is due within it joins an order that goes anyway. No source


def cover_days(goods: Sequence[Wanted], terms: Terms) -> float:
    """Return for how many days to buy from a supplier at once: the cycle that orders and keeps at least cost.

    Goods without a price or without use do not weigh in it; where none is left it is the terms' own cover.
    """
    told = [
        joint.Good(one.per_day * YEAR_DAYS, terms.holding * (one.price(one.step) or 0) / one.pack)
        for one in goods
        if one.per_day > 0 and one.price(one.step) and terms.holding > 0
    ]
    ordering = terms.order_cost + min((step.minor for step in terms.carriage), default=0)
    if not told or ordering <= 0:
        return float(terms.cover_days)
    return min(float(MOST_COVER), max(7.0, joint.best(told, ordering).years * YEAR_DAYS))


def propose(goods: Sequence[Wanted], terms: Terms, limits_: Limits | None = None) -> Basket:
    """Propose what to order from one supplier today.

    Args:
        goods: its items, those that are due and those that may join.
        terms: the supplier's.
        limits_: room and money; None: enough of both.

    Returns:
        A basket, empty where nothing is due. Due items come first and never with less than `least` but where room, shelf
        life or money forbid it, which their reasons say. Whole packs and bundles. Room is kept before anything is raised,
        and nothing is raised that room or money would cut again. Kinds of reasons: due, usual, joined, rounded, price,
        minimum, freight, most, room, money, no price; notes: minimum out of reach, minimum over money, minimum not known,
        money.

    Source: joint replenishment for the cover; the rest is comparison of costs by enumeration. JOIN: no source.
    """
    draft = Draft(goods, terms, limits_)
    due = [one for one in goods if one.least > 0]
    if not due:
        return draft.basket()
    cover = cover_days(goods, terms)
    for one in due:
        _due(draft, one, cover)
    for one in goods:
        if not one.least and one.per_day > 0 and 0 < one.left_days <= cover * JOIN:
            many = one.whole(one.usual) if one.usual else one.rounded(one.per_day * cover)
            units = min(float(many), draft.most(one.key))
            if units > 0:
                draft.put(
                    one.key, int(units), Why("joined", {"left_days": round(one.left_days), "cover_days": round(cover)})
                )
    limits.keep_room(draft)
    for key in [key for key, units in draft.units.items() if units]:
        raising.price_break(draft, key)
    raising.minimum(draft)
    raising.carriage(draft)
    limits.keep_money(draft)
    raising.below_minimum(draft)
    return draft.basket()


def bare_cost(goods: Sequence[Wanted], terms: Terms, limits_: Limits | None = None) -> int:
    """Return what a supplier's due goods cost with carriage at the least, minor units: nothing beyond, nothing joined."""
    draft = Draft(goods, terms, Limits(limits_.room) if limits_ else None)
    for one in goods:
        draft.put(one.key, int(min(one.rounded(one.least), draft.most(one.key))))
    limits.keep_room(draft)
    for one in goods:
        if draft.units[one.key]:
            raising.price_break(draft, one.key, in_all=True)
    return draft.total if any(draft.units.values()) else 0


def allowance(left: int, bare: int, later: Sequence[int]) -> int:
    """Return what a supplier may be paid of the money that is left, minor units.

    Bare goods that are due come before all that is bought beyond them, also those of suppliers that are `later` in turn.
    """
    return max(min(bare, left), left - sum(later))


def _due(draft: Draft, one: Wanted, cover: float) -> None:
    beyond = math.ceil(one.least + one.per_day * cover - 1e-9) - one.least
    if one.usual:
        exact, units = one.least, one.whole(one.usual * math.ceil(one.rounded(one.least) / one.usual))
        why = [Why("usual", {"least": one.least, "usual": one.usual})]
    else:
        exact, units = one.least + beyond, one.rounded(one.least + one.per_day * cover)
        why = [Why("due", {"least": one.least, "cover_days": round(cover), "cover": beyond})]
    if one.step > 1 and units != exact:
        why.append(Why("rounded", {"step": one.step, "units": units}))
    if not one.prices:
        why.append(Why("no price"))
    most = draft.most(one.key)
    if units > most or draft.wastes(one.key):
        units = int(min(units, most))
        told = {"most": one.most or 0, "bought": units, "short": one.short(units)}
        why.append(Why("most", {**told, "what": one.most_why}))
    draft.put(one.key, units, *why)


__all__ = ["Draft", "allowance", "bare_cost", "cover_days", "propose"]

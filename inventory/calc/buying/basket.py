"""The basket: what is due in sensible quantities, what joins it, and what is raised or cut, each with its reason."""

import math
from collections.abc import Sequence

from inventory.calc.buying import joint, limits
from inventory.calc.buying.terms import YEAR_DAYS, Basket, Limits, Line, Terms, Wanted, Why

MOST_COVER = 365  # days bought for at the most. No source
JOIN = 0.5  # of the cover: what is due within it joins an order that goes anyway. No source


class Draft:
    """A basket as it is being made: units and reasons by item, in the order the goods were given."""

    def __init__(self, goods: Sequence[Wanted], terms: Terms) -> None:
        self.goods = {one.key: one for one in goods}
        self.terms = terms
        self.units = dict.fromkeys(self.goods, 0)
        self.why: dict[str, list[Why]] = {key: [] for key in self.goods}
        self.notes: list[Why] = []

    def most(self, key: str) -> float:
        """Return the units that are sensible at the most, whole bundles."""
        one = self.goods[key]
        top = math.inf if one.most is None else one.most
        return top if math.isinf(top) else float(one.fits(top))

    def put(self, key: str, units: int, *why: Why) -> None:
        """Set the units of an item and add reasons."""
        self.units[key] = units
        self.why[key] += why

    @property
    def value(self) -> int:
        """Return what the basket costs without carriage, minor units."""
        return sum(one.value(self.units[key]) for key, one in self.goods.items())

    @property
    def mass_mg(self) -> int:
        """Return what the basket weighs, as far as known."""
        return sum(one.mass_mg * (self.units[key] // one.pack) for key, one in self.goods.items())

    @property
    def freight(self) -> int:
        """Return what carriage costs, minor units."""
        return self.terms.freight(self.value, self.mass_mg)

    def cover(self, key: str, more: int = 0) -> float:
        """Return the days that an item lasts with what is in the basket."""
        one = self.goods[key]
        return one.stands_days + (self.units[key] + more) / one.per_day if one.per_day else math.inf

    def keeping(self, key: str, more: int) -> float:
        """Return what keeping more units costs until they are used, minor units."""
        one = self.goods[key]
        price = one.price(self.units[key] + more) or 0
        if not one.per_day:
            return math.inf
        days = self.cover(key) + more / one.per_day / 2
        return self.terms.holding * price * more / one.pack * days / YEAR_DAYS

    def basket(self) -> Basket:
        """Return it as it stands."""
        lines = []
        for key, units in self.units.items():
            one = self.goods[key]
            if units or (one.least and self.why[key]):
                lasts = self.cover(key) if one.per_day else None
                lines.append(Line(key, units, one.value(units), lasts, tuple(self.why[key])))
        ordered = [line for line in lines if line.units]
        return Basket(tuple(lines), self.value, self.freight if ordered else 0, tuple(self.notes))


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
        life or money forbid it, which their reasons say. Whole packs and bundles. Kinds of reasons: due, usual, joined, rounded,
        price, minimum, freight, most, room, money, no price; notes: minimum out of reach, money.

    Source: joint replenishment for the cover; the rest is comparison of costs by enumeration. JOIN: no source.
    """
    draft = Draft(goods, terms)
    due = [one for one in goods if one.least > 0]
    if not due:
        return draft.basket()
    cover = cover_days(goods, terms)
    for one in due:
        _due(draft, one, cover)
    for one in goods:
        if not one.least and one.per_day > 0 and 0 < one.left_days <= cover * JOIN:
            units = min(float(one.rounded(one.usual or one.per_day * cover)), draft.most(one.key))
            if units > 0:
                draft.put(
                    one.key, int(units), Why("joined", {"left_days": round(one.left_days), "cover_days": round(cover)})
                )
    for key in [key for key, units in draft.units.items() if units]:
        _price_break(draft, key)
    _minimum(draft)
    _freight(draft)
    limits.keep(draft, limits_ or Limits())
    return draft.basket()


def _due(draft: Draft, one: Wanted, cover: float) -> None:
    least = one.rounded(one.least)
    if one.usual:
        units = one.rounded(one.usual * math.ceil(one.least / one.usual))
        why = [Why("usual", {"least": one.least, "usual": one.usual})]
    else:
        units = max(least, one.rounded(one.least + one.per_day * cover) if one.per_day else least)
        why = [Why("due", {"least": one.least, "cover_days": round(cover)})]
    if one.step > 1 and least != one.least:
        why.append(Why("rounded", {"step": one.step, "units": units}))
    if not one.prices:
        why.append(Why("no price"))
    most = draft.most(one.key)
    if units > most:
        units = int(most)
        why.append(Why("most", {"most": int(most), "short": max(0, one.least - units), "what": one.most_why}))
    draft.put(one.key, units, *why)


def _price_break(draft: Draft, key: str) -> None:
    """Raise an item to the price break that saves most beyond what keeping the rest costs."""
    one, now = draft.goods[key], draft.units[key]
    price = one.price(now)
    if price is None or not one.per_day:
        return
    found: tuple[float, int, int] | None = None
    for break_ in one.prices:
        units = one.rounded(break_.from_packs * one.pack)
        if units <= now or units > draft.most(key) or draft.cover(key, units - now) > MOST_COVER:
            continue
        packs = units / one.pack
        saves = (price - break_.minor) * packs
        left = saves - draft.keeping(key, units - now)
        if left > 0 and (found is None or left > found[0]):
            found = (left, units, round(saves))
    if found is not None:
        days = draft.cover(key, found[1] - now) - one.stands_days
        draft.put(key, found[1], Why("price", {"units": found[1], "saves": found[2], "days": round(days)}))


def _raise(draft: Draft, target: int) -> tuple[Draft, float] | None:
    """Add whole bundles of what is used up soonest until the value is reached; what that costs to keep, or None."""
    tried = Draft(list(draft.goods.values()), draft.terms)
    tried.units = dict(draft.units)
    cost = 0.0
    while tried.value < target:
        open_ = [
            key
            for key, one in tried.goods.items()
            if one.prices
            and one.per_day
            and tried.units[key] + one.step <= tried.most(key)
            and tried.cover(key, one.step) <= MOST_COVER
        ]
        if not open_:
            return None
        key = min(open_, key=lambda name: (tried.cover(name), name))
        cost += tried.keeping(key, tried.goods[key].step)
        tried.units[key] += tried.goods[key].step
    return tried, cost


def _minimum(draft: Draft) -> None:
    if draft.value >= draft.terms.minimum:
        return
    raised = _raise(draft, draft.terms.minimum)
    if raised is None:
        draft.notes.append(Why("minimum out of reach", {"minimum": draft.terms.minimum, "value": draft.value}))
        return
    _take(draft, raised[0], "minimum", {"minimum": draft.terms.minimum})


def _freight(draft: Draft) -> None:
    """Raise the order to the next cheaper carriage where that saves more than keeping the rest costs."""
    now = draft.freight
    for step in sorted(draft.terms.carriage, key=lambda one: one.from_minor):
        if step.from_mass_mg or step.from_minor <= draft.value or step.minor >= now:
            continue
        raised = _raise(draft, step.from_minor)
        if raised is not None and raised[1] < now - raised[0].freight:
            _take(draft, raised[0], "freight", {"saves": now - raised[0].freight, "from": step.from_minor})
            return


def _take(draft: Draft, raised: Draft, kind: str, facts: dict[str, int]) -> None:
    for key, units in raised.units.items():
        if units > draft.units[key]:
            draft.put(key, units, Why(kind, {**facts, "more": units - draft.units[key]}))


__all__ = ["Draft", "cover_days", "propose"]

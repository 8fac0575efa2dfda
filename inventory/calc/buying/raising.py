"""More than is due, where it pays or a supplier asks for it: price breaks, the smallest order, cheaper carriage."""

import math
from typing import Final

from inventory.calc.buying.draft import MOST_COVER, Draft
from inventory.calc.buying.terms import Price, Wanted, Why

PROBED: Final = (30, 91, 182, MOST_COVER)  # days; a price break may make more cost less, so more than the last is tried


def price_break(draft: Draft, key: str, *, in_all: bool = False) -> None:
    """Take the quantity whose price saves most beyond what keeping the rest costs, or costs less in all; within room.

    in_all: only what costs less in all, whatever it is used for.
    """
    one, now = draft.goods[key], draft.units[key]
    top = min(draft.most(key), now + draft.room(draft.units, one.stored_as))
    ways = [
        way
        for break_ in one.prices
        if break_.minor < (one.price(now) or 0) and (units := _next(one, break_, now)) <= top
        if (way := _way(draft, key, units, in_all=in_all)) is not None
    ]
    if ways:
        _, units, why = max(ways, key=lambda way: (way[0], -way[1]))
        draft.put(key, units, why)


def _next(one: Wanted, break_: Price, now: int) -> int:
    """Return the quantity next to one for which a price holds: just below where that is still all that is due, else above."""
    grain, start = one.grain(break_), break_.from_packs * one.pack
    below = grain * (now // grain)
    fine = not one.usual and max(start, one.rounded(one.least), 1) <= below < now
    return below if fine else grain * -(-max(start, now + 1) // grain)


def _way(draft: Draft, key: str, units: int, *, in_all: bool) -> tuple[float, int, Why] | None:
    """Return what another quantity saves, with its reason, or nothing where it does not pay."""
    one, now = draft.goods[key], draft.units[key]
    price, lower = one.price(now) or 0, one.price(units) or 0
    if not in_all and one.per_day and draft.cover(key, units) <= MOST_COVER and draft.affords_of(key, units):
        left = (price - lower) * (units - now) / one.pack - draft.keeping(key, units)
        if left > 0:
            days = round(draft.cover(key, units) - one.stands_days)
            facts = {"units": units, "saves": round((price - lower) * units / one.pack), "days": days}
            return left, units, Why("price", {**facts, **_by(one, units)})
    less = draft.total - draft.total_of(key, units)
    if units > now and less > 0 and one.priced(now):
        return less, units, Why("price", {"units": units, "than": now, "less": less})
    return None


def _by(one: Wanted, units: int) -> dict[str, int]:
    """Return in what quantity the price of so many units is to be had, where that is not the smallest one."""
    held = [price for price in one.prices if price.holds(units // one.pack)]
    by = one.grain(held[-1]) if held else one.step
    return {"by": by} if by > one.step else {}


def minimum(draft: Draft) -> None:
    """Reach the supplier's smallest order with what is used up soonest, where that can be used and paid."""
    wanted = draft.terms.minimum
    if draft.unpriced or not 0 < draft.value < wanted:
        return
    raised = _raised(draft, wanted)
    if raised is not None and draft.affords(raised):
        _take(draft, raised, "minimum", {"minimum": wanted})


def below_minimum(draft: Draft) -> None:
    """Say that the supplier's smallest order is not reached, why, and from when on it would be."""
    wanted, value = draft.terms.minimum, draft.value
    if value >= wanted or not any(draft.units.values()):
        return
    facts: dict[str, int | float | str] = {"minimum": wanted, "value": value}
    if draft.unpriced:
        draft.notes.append(Why("minimum not known", facts))
        return
    money = draft.limits.money
    if money is not None and _raised(draft, wanted) is not None:
        draft.notes.append(Why("minimum over money", {**facts, "money": money}))
        return
    facts["reach"] = draft.worth(_level(draft, MOST_COVER))
    days = _until(draft, wanted)
    if days is not None:
        facts["wait_days"] = days
    lasts = [one.stands_days for key, one in draft.goods.items() if draft.units[key] and one.least and one.per_day]
    if lasts:
        facts["lasts_days"] = math.floor(min(lasts))
    draft.notes.append(Why("minimum out of reach", facts))


def carriage(draft: Draft) -> None:
    """Raise the order to the cheaper carriage that saves most beyond what keeping the rest costs."""
    now, value = draft.freight, draft.value
    if draft.unpriced or not value:
        return
    found: tuple[float, dict[str, int], int, int] | None = None
    for step in draft.terms.carriage:
        if step.from_mass_mg or step.from_minor <= value or step.minor >= now:
            continue
        raised = _raised(draft, step.from_minor)
        if raised is None or not draft.affords(raised):
            continue
        saves = now - draft.carriage(raised)
        left = saves - sum(draft.keeping(key, units) for key, units in raised.items() if units > draft.units[key])
        if saves > 0 and left > 0 and (found is None or left > found[0]):
            found = (left, raised, saves, step.from_minor)
    if found is not None:
        _take(draft, found[1], "freight", {"saves": found[2], "from": found[3]})


def _raised(draft: Draft, target: int) -> dict[str, int] | None:
    """Return the units with which all goods last equally long and the value is reached, or nothing where none does.

    What lasts longest is taken back again by whole bundles as far as the value allows.
    """
    tried = (days for days in PROBED if draft.worth(_level(draft, days)) >= target)
    most = next(tried, None)
    if most is None:
        return None
    fewest = 0
    while most - fewest > 1:
        middle = (fewest + most) // 2
        enough = draft.worth(_level(draft, middle)) >= target
        fewest, most = (fewest, middle) if enough else (middle, most)
    return _trimmed(draft, _level(draft, most), target)


def _level(draft: Draft, days: int, later: int = 0) -> dict[str, int]:
    """Return the units with which every good lasts so many days from today, within what is sensible and has room.

    `later`: days that pass before it is ordered; what is used until then makes room.
    """
    units = dict(draft.units)
    for key in sorted(units, key=lambda name: (draft.cover(name, units[name]), name)):
        one, now = draft.goods[key], units[key]
        if not one.prices or not one.per_day:
            continue
        freed = one.per_day * later
        most = math.inf if one.most is None else one.most + freed
        if one.stored_as in draft.limits.room:
            most = min(most, now + draft.room(units, one.stored_as) + freed)
        long = max(0.0, MOST_COVER + later - one.stands_days) * one.per_day / (1 - one.lost)
        wanted = one.rounded(max(0.0, days - one.stands_days) * one.per_day)
        top = min(most, long)
        units[key] = max(now, min(wanted, one.fits(top)))
    return units


def _trimmed(draft: Draft, units: dict[str, int], target: int) -> dict[str, int]:
    spare = draft.worth(units) - target
    for key in sorted(units, key=lambda name: (-draft.cover(name, units[name]), name)):
        one, before = draft.goods[key], draft.goods[key].value(units[key])
        fewest, most = draft.units[key] // one.step, units[key] // one.step
        while fewest < most:
            middle = (fewest + most) // 2
            enough = before - one.value(middle * one.step) <= spare
            fewest, most = (fewest, middle) if enough else (middle + 1, most)
        units[key] = most * one.step
        spare -= before - one.value(units[key])
    return units


def _until(draft: Draft, target: int) -> int | None:
    """Return the days after which as much can be used as the smallest order asks for, or nothing within a year."""
    fewest, most = 0, MOST_COVER + 1
    while most - fewest > 1:
        middle = (fewest + most) // 2
        enough = draft.worth(_level(draft, MOST_COVER + middle, middle)) >= target
        fewest, most = (fewest, middle) if enough else (middle, most)
    return most if most <= MOST_COVER else None


def _take(draft: Draft, raised: dict[str, int], kind: str, facts: dict[str, int]) -> None:
    for key, units in raised.items():
        if units > draft.units[key]:
            draft.put(key, units, Why(kind, {**facts, "more": units - draft.units[key]}))

"""Room and money: what is cut where a limit is in the way, the least urgent first."""

import datetime as dt
import math

from inventory.calc.buying.draft import Draft
from inventory.calc.buying.terms import Price, Wanted, Why


def keep_room(draft: Draft) -> None:
    """Cut a basket until it has room; the reason says what is still short and in how many days the rest has room."""
    for storage, room in draft.limits.room.items():
        _room(draft, storage, max(0, room))


def keep_money(draft: Draft) -> None:
    """Cut a basket until the money reaches: what was raised or joined, then what is due, what ends last first.

    What has no price is not cut, as that saves nothing known. More money never leaves less of `least` of an item.
    """
    money = draft.limits.money
    if money is None:
        return
    for floor in (True, False):
        for key in _spared(draft, floor=floor):
            one = draft.goods[key]
            least = _bare(one, draft.units[key]) if floor and one.least else 0
            while draft.total > money and draft.units[key] > least:
                lower = max(least, _affordable(draft, key, money))
                draft.put(key, lower)
                draft.why[key] = [why for why in draft.why[key] if why.kind != "price"]
                _say(draft, key, Why("money", {"money": money, "short": one.short(lower)}))
    cut = any(why.kind == "money" and why.facts["short"] for told in draft.why.values() for why in told)
    if cut or (any(draft.units.values()) and draft.total > money):
        draft.notes.append(Why("money", {"money": money}))


def _spared(draft: Draft, *, floor: bool) -> list[str]:
    """Return what can be cut, first what can be spared most: joined goods, then those that last longest.

    When due goods go below their least it is those first that are ordered last.
    """
    keys = [key for key, units in draft.units.items() if units and draft.goods[key].value(units)]
    if floor:
        return sorted(keys, key=lambda key: (draft.goods[key].least > 0, -draft.cover(key, draft.units[key]), key))
    return sorted(keys, key=lambda key: _urgency(draft.goods[key]), reverse=True)


def _urgency(one: Wanted) -> tuple[bool, dt.date, float, str]:
    return one.least <= 0, one.ends or dt.date.max, one.stands_days, one.key


def _room(draft: Draft, storage: str, room: int) -> None:
    stored = [key for key, one in draft.goods.items() if one.stored_as == storage and draft.units[key]]
    over = sum(draft.units[key] for key in stored) - room
    for key in sorted(stored, key=lambda key: _urgency(draft.goods[key]), reverse=True):
        if over <= 0:
            return
        one, units = draft.goods[key], draft.units[key]
        left = one.fits(max(0, units - over))
        missing = min(over, units - left)
        over -= units - left
        facts: dict[str, int | float | str] = {
            "room": room, "what": storage, "short": one.short(left), "left": left, "rest": units - left,
        }  # fmt: skip
        if one.per_day:
            facts["days"] = math.ceil(missing / one.per_day)
        draft.put(key, left, Why("room", facts))


def _say(draft: Draft, key: str, why: Why) -> None:
    """Add a reason in place of an earlier one of its kind."""
    draft.why[key] = [one for one in draft.why[key] if one.kind != why.kind] + [why]


def _bare(one: Wanted, units: int) -> int:
    """Return the cheapest quantity that is all that is due, up to so many units."""
    least = one.rounded(one.least)
    next_ = (one.grain(price) * -(-max(price.from_packs * one.pack, least) // one.grain(price)) for price in one.prices)
    return min(
        (many for many in (least, *next_) if many <= units), key=lambda many: (one.value(many), many), default=units
    )


def _affordable(draft: Draft, key: str, money: int) -> int:
    """Return the most units below those in the basket that money reaches for, at any of the prices."""
    one = draft.goods[key]
    return max((_at_price(draft, key, price, money) for price in one.prices), default=0)


def _at_price(draft: Draft, key: str, price: Price, money: int) -> int:
    """Return the most units below those in the basket that are sold at a price and that money reaches for."""
    one, now = draft.goods[key], draft.units[key]
    grain, start = one.grain(price), price.from_packs * one.pack
    if price == one.prices[0]:  # taken for fewer too, where nothing better is known
        grain, start = one.step, one.step
    each = price.minor * grain / one.pack
    units = grain * ((now - 1) // grain)
    while units >= start:
        over = draft.total_of(key, units) - money
        if over <= 0:
            return units
        units -= grain * max(1, math.ceil(over / each)) if each else units
    return 0

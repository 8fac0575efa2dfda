"""Room and money: what is cut where a limit is in the way, the least urgent first."""

from typing import TYPE_CHECKING

from inventory.calc.buying.terms import Limits, Why

if TYPE_CHECKING:
    from inventory.calc.buying.basket import Draft


def keep(draft: "Draft", limits: Limits) -> None:
    """Cut a basket until it keeps the limits; every cut is among the reasons, with what is still short."""
    for storage, room in limits.room.items():
        _room(draft, storage, max(0, room))
    if limits.money is not None:
        _money(draft, limits.money)


def _last_first(draft: "Draft", keys: list[str]) -> list[str]:
    """Return items with what is due first at the end: what only joined is cut first, then what lasts longest."""
    return sorted(keys, key=lambda key: (draft.goods[key].least > 0, -draft.cover(key), key))


def _room(draft: "Draft", storage: str, room: int) -> None:
    stored = [key for key, one in draft.goods.items() if one.stored_as == storage and draft.units[key]]
    over = sum(draft.units[key] for key in stored) - room
    for key in _last_first(draft, stored):
        if over <= 0:
            return
        one, units = draft.goods[key], draft.units[key]
        left = one.fits(max(0, units - over))
        over -= units - left
        facts: dict[str, int | float | str] = {"room": room, "what": storage, "short": max(0, one.least - left)}
        draft.put(key, left, Why("room", facts))


def _money(draft: "Draft", money: int) -> None:
    """Cut what was raised, then what joined, then what is due down to the least, then leave it out, the last due first."""
    for floor in (True, False):
        for key in _last_first(draft, [key for key, units in draft.units.items() if units]):
            while draft.value + draft.freight > money and draft.units[key]:
                one, units = draft.goods[key], draft.units[key]
                least = one.rounded(one.least) if floor and one.least else 0
                lower = max(least, _affordable(draft, key, money))
                if lower >= units:
                    break
                draft.put(key, lower, Why("money", {"money": money, "short": max(0, one.least - lower)}))
    if draft.value + draft.freight > money or not any(draft.units.values()):
        draft.notes.append(Why("money", {"money": money}))


def _affordable(draft: "Draft", key: str, money: int) -> int:
    """Return the units that money still reaches for; dearer prices of smaller quantities are seen by looking again."""
    one, units = draft.goods[key], draft.units[key]
    step = one.value(one.step) or 1
    over = draft.value + draft.freight - money
    return max(0, units - one.step * max(1, -(-over // step)))

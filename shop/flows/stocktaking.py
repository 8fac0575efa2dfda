"""Counts, use, moves, losses and what is cleared for use: lock, let orders give way, book, serve the lines that wait."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from inventory.models import Bar, Entry, Item, Lot, Place
from inventory.services import correcting, counting
from inventory.services.counting import Counted
from inventory.services.ledger import Locks, Stamp
from orders.models import OrderLine
from orders.services import reserving
from shop.flows import giving_way
from shop.shared import transactions


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was booked, which order lines gave way, which were served."""

    entry: Entry | None
    gave_way: Sequence[OrderLine] = ()
    served: Sequence[OrderLine] = ()
    counted: Counted | None = None

    @property
    def said(self) -> str:
        """Name the orders that gave way; nothing where none did."""
        return giving_way.said(self.gave_way)


def count(item: Item, place: Place, found: int, *, stamp: Stamp) -> Outcome:
    """Book a shelf count; pieces that are missing but promised make orders give way."""
    transactions.assert_open()
    counting.check_count(item, place, found)
    locks = giving_way.lock({item.pk}, at=stamp.at)
    holdings = counting.standing(item, place)
    missing = sum(holding.on_hand for holding in holdings) - found
    gave = giving_way.make_room(locks, holdings, missing) if missing > 0 else []
    counted = counting.count(item, place, found, locks=locks, stamp=stamp)
    return Outcome(counted.entry, gave, reserving.serve_waiting(locks), counted)


def use(item: Item, qty: int, *, stamp: Stamp, what_for: str = "OWN-USE", place: Place | None = None) -> Outcome:
    """Book something as used by the shop, or worked up."""
    return _plain(
        {item.pk},
        stamp,
        lambda locks: counting.use(item, qty, locks=locks, stamp=stamp, what_for=what_for, place=place),
    )


def move(lot: Lot, qty: int, *, source: Place, target: Place, stamp: Stamp) -> Outcome:
    """Move pieces or a bar to another rack, bin or shelf."""
    return _plain(
        {lot.item_id},
        stamp,
        lambda locks: counting.move(lot, qty, source=source, target=target, locks=locks, stamp=stamp),
    )


def write_off(
    lot: Lot, qty: int, *, place: Place, cause: str, stamp: Stamp, lost: bool = False, step: int = 0
) -> Outcome:
    """Book pieces as scrap or lost; orders give way where they were promised."""
    transactions.assert_open()
    locks = giving_way.lock({lot.item_id}, at=stamp.at)
    there = counting.holding_of(lot, place, step=step)
    gave = giving_way.make_room(locks, [there], qty) if 1 <= qty <= there.on_hand else []
    entry = counting.write_off(lot, qty, place=place, cause=cause, lost=lost, locks=locks, stamp=stamp, step=step)
    return Outcome(entry, gave, reserving.serve_waiting(locks))


def back_in_use(lot: Lot, *, stamp: Stamp, place: Place | None = None) -> Outcome:
    """Put a lot back that was not to be used, as the owner decided."""
    return _plain({lot.item_id}, stamp, lambda locks: counting.back_in_use(lot, locks=locks, stamp=stamp, place=place))


def correct_length(bar: Bar, length: str, *, stamp: Stamp, unit: str | None = None) -> Outcome:
    """Correct the length a bar was typed with."""
    return _plain(
        {bar.lot.item_id}, stamp, lambda locks: correcting.bar_length(bar, length, locks=locks, stamp=stamp, unit=unit)
    )


def _plain(items: set[int], stamp: Stamp, action: Callable[[Locks], Entry]) -> Outcome:
    transactions.assert_open()
    locks = reserving.lock_and_tidy(items, at=stamp.at)
    entry = action(locks)
    return Outcome(entry, served=reserving.serve_waiting(locks))

"""Wrong or doubtful steel: out of use at once, back to the supplier, a whole melt with all that was made of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from inventory.models import Entry, Holding, Lot, Melt, Place
from inventory.services import counting
from inventory.services import doubting as doubt
from inventory.services.counting import NothingThere
from inventory.services.ledger import Locks, Stamp
from orders.models import OrderLine
from orders.services import reserving
from shop.flows import giving_way
from shop.shared import transactions


@dataclass(frozen=True, slots=True)
class Doubted:
    """The entries that took lots away, and the order lines that gave way."""

    entries: Sequence[Entry]
    gave_way: Sequence[OrderLine]

    @property
    def said(self) -> str:
        """Name the orders that gave way; nothing where none did."""
        return giving_way.said(self.gave_way)


def out_of_use(lots: Sequence[Lot], *, stamp: Stamp) -> Doubted:
    """Take lots out of use; one that is not in the shop any more is passed over, but at least one must be."""
    there = [lot for lot in lots if counting.inside(lot)]
    return _take(there, lambda lot, locks: counting.not_to_be_used(lot, locks=locks, stamp=stamp), stamp)


def melt_out_of_use(melt: Melt, *, stamp: Stamp) -> Doubted:
    """Take everything of a melt out of use, and everything made of it that is still in the shop."""
    return out_of_use(doubt.standing_of(melt), stamp=stamp)


def send_back(lots: Sequence[Lot], *, stamp: Stamp) -> Doubted:
    """Send lots of a delivery back to the supplier."""
    there = [lot for lot in lots if Holding.objects.filter(lot=lot, on_hand__gt=0, place__inside=True).exists()]
    return _take(there, lambda lot, locks: doubt.send_back(lot, locks=locks, stamp=stamp), stamp)


def scrap(lot: Lot, *, stamp: Stamp) -> list[Entry]:
    """Book everything of a lot that is not to be used as scrap, as the owner decided."""
    transactions.assert_open()
    shut = Holding.objects.filter(lot=lot, on_hand__gt=0, place__kind=Place.Kind.NOT_TO_BE_USED)
    holdings = list(shut.select_related("place").order_by("id"))
    if not holdings:
        raise NothingThere(f"Nothing of lot {lot.code} stands under *not to be used*; look in the Book where it went.")
    locks = reserving.lock_and_tidy({lot.item_id}, at=stamp.at)
    return [
        counting.write_off(
            lot, one.on_hand, place=one.place, cause=stamp.reason, lost=False, locks=locks, stamp=stamp, step=one.step
        )
        for one in holdings
    ]


def _take(lots: Sequence[Lot], act: Callable[[Lot, Locks], Entry], stamp: Stamp) -> Doubted:
    transactions.assert_open()
    if not lots:
        raise NothingThere("Nothing of it stands in the shop any more; the trace says who has it.")
    locks = giving_way.lock(doubt.items_of(lots), at=stamp.at)
    gave: dict[int, OrderLine] = {}
    entries = []
    for lot in lots:
        for holding in Holding.objects.filter(lot=lot, on_hand__gt=0, place__inside=True).select_related("place"):
            gave.update({line.pk: line for line in giving_way.make_room(locks, [holding], holding.on_hand)})
        entries.append(act(lot, locks))
    reserving.serve_waiting(locks)
    return Doubted(entries, list(gave.values()))

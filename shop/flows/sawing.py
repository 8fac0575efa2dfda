"""At the saw, without a plan: a bar is cut, blanks and what is left are in the book, lines that wait are served."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Bar, Cut, Lot
from inventory.services import cutting, doubting
from inventory.services.cutting import SawJob
from inventory.services.ledger import Stamp
from orders.models import OrderLine
from orders.services import reserving
from shop.shared import transactions


@dataclass(frozen=True, slots=True)
class CutDone:
    """What a cut made, and the order lines it served."""

    cut: Cut
    lots: Sequence[Lot]
    served: Sequence[OrderLine]


def cut(bar: Bar, wanted: SawJob, *, stamp: Stamp) -> CutDone:
    """Cut a bar into blanks, a length for own tooling, or in two."""
    transactions.assert_open()
    items = {bar.lot.item_id} | {one.blank.pk for one in wanted.blanks}
    locks = reserving.lock_and_tidy(items, at=stamp.at)
    made = cutting.cut(bar, wanted, locks=locks, stamp=stamp)
    return done_with(made, reserving.serve_waiting(locks))


def done_with(made: Cut, served: Sequence[OrderLine]) -> CutDone:
    """Return a cut with the lots it made and the lines served."""
    return CutDone(made, list(made.entry.lots_made.select_related("item", "bar").order_by("id")), served)


def paint_lost(bar: Bar, *, stamp: Stamp) -> Bar:
    """Book a bar whose painted end is lost as steel of unknown grade."""
    transactions.assert_open()
    unnamed = doubting.unnamed_item(bar, stamp=stamp)
    locks = reserving.lock_and_tidy({bar.lot.item_id, unnamed.pk}, at=stamp.at)
    _, made = doubting.paint_lost(bar, unnamed, locks=locks, stamp=stamp)
    return made

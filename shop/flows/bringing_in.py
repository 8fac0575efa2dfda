"""A customer's piece is mended: the handle and the wedges that go into it are used, the piece itself is never stock."""

from inventory.models import Entry
from inventory.services import counting, ledger
from inventory.services.ledger import Stamp
from orders.models import BroughtIn
from orders.services import mending, reserving
from shop.shared import transactions
from shop.shared.errors import Invalid


def done(piece: BroughtIn, *, stamp: Stamp, handles: int = 0, wedges: int = 0, minutes: int | None = None) -> BroughtIn:
    """Book a piece as mended, with what was used on it."""
    transactions.assert_open()
    wanted = [(piece.handle, handles, "handles"), (piece.wedge, wedges, "wedges")]
    for item, qty, name in wanted:
        if qty < 0 or (qty and item is None):
            raise Invalid.field(name, f"{name.capitalize()}: say first which {name} go into piece {piece.number}.")
    used = [(item, qty) for item, qty, _ in wanted if item is not None and qty]
    entry = None
    if used:
        locks = reserving.lock_and_tidy({item.pk for item, _ in used}, at=stamp.at)
        target = counting.own_use()
        lines = [line for item, qty in used for line in counting.free_lines(item, qty, target)]
        entry = ledger.commit(Entry.Kind.USE, lines, locks=locks, stamp=stamp)
    return mending.done(piece, entry=entry, minutes=minutes, at=stamp.at, by=stamp.by)

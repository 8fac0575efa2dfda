"""What stopped the work, and bottles that were changed."""

from inventory.models import FloorNote, Item, Run
from inventory.services.ledger import Stamp
from shop.shared import audit, transactions
from shop.shared.errors import Invalid


def note(what: str, *, stamp: Stamp, run: Run | None = None, item: Item | None = None, words: str = "") -> FloorNote:
    """Note what stopped a run, or which bottle was changed."""
    transactions.assert_open()
    if what not in FloorNote.What.values:
        raise Invalid.field("what", f"What: {what[:20]!r} is none of {', '.join(FloorNote.What.values)}.")
    if what == FloorNote.What.BOTTLE and item is None:
        raise Invalid.field("item", "Bottle: say what is in it.")
    if what != FloorNote.What.BOTTLE and item is not None:
        raise Invalid.field("item", "Bottle: only a changed bottle names what is in it; leave it empty.")
    made = FloorNote.objects.create(
        what=what, at=stamp.when, by=stamp.by.person, run=run, item=item, note=words.strip()[:200]
    )
    audit.write(
        at=stamp.at, by=stamp.by.label, action="floor noted", subject=f"run {run.code}" if run else "the floor",
        after={"what": what, "item": item.code if item else None},
    )  # fmt: skip
    return made

"""What is to be made for the shelf: put into the week, changed, dropped, and begun with a run that is started."""

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from inventory.calc import starts
from inventory.queries import learned, shelf
from orders.models import ForShelf, WeekPin
from orders.queries import making
from orders.queries.shop_state.for_shelf import MOST, open_wishes
from orders.services import week
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import AuditLine

if TYPE_CHECKING:
    from inventory.models import Entry, Item, Run

LONGEST_WHY = 300


def ask(item: "Item", pieces: int, *, why: str = "", at: dt.datetime, by: Actor) -> ForShelf:
    """Put pieces to be started into the week, behind all that is owed.

    Args:
        item: a head or a tool that is made here.
        pieces: to be started, 1 or more; more than a run takes are planned as several runs.
        why: in a sentence, as it was proposed or as somebody wants it.
        at: now.
        by: who wants it.

    Raises:
        Invalid: not made here, no pieces, or something is in the week for it already.
    """
    transactions.assert_open()
    _made(item)
    _checked(pieces, why)
    wish, new = ForShelf.objects.get_or_create(
        item=item, run=None, dropped_at=None,
        defaults={"pieces": pieces, "asked_at": at, "by": by.person, "why": why},
    )  # fmt: skip
    if not new:
        raise Invalid.field(
            "item", f"Item: {wish.pieces} of {item.code} are in the week for the shelf already; change or drop these."
        )
    audit.write(
        at=at, by=by.label, action="put into the week for the shelf", subject=f"item {item.code}",
        after={"pieces": pieces, "why": why},
    )  # fmt: skip
    return wish


def change(item: "Item", pieces: int, *, at: dt.datetime, by: Actor) -> ForShelf:
    """Make more or fewer of an item than were put into the week."""
    transactions.assert_open()
    _checked(pieces, "")
    wish = hold_still(item)
    if wish.pieces != pieces:
        _set(wish, pieces, "for the shelf changed", "", at=at, by=by)
    return wish


def drop(item: "Item", *, at: dt.datetime, by: Actor) -> ForShelf:
    """Take an item out of the week again; its pins go with it."""
    transactions.assert_open()
    wish = hold_still(item)
    _drop(wish, "", at=at, by=by)
    return wish


def hold_still(item: "Item") -> ForShelf:
    """Lock what is in the week of an item and return it."""
    found = ForShelf.objects.select_for_update().filter(item=item, run=None, dropped_at=None).first()
    if found is None:
        raise NotFound(
            f"Nothing of {item.code} is in the week for the shelf: it was begun or dropped, or never put in."
        )
    return found


def runs(pieces: int, most_run: int) -> int:
    """Return in how many runs so many pieces are made."""
    return -(-pieces // most_run)


def started(run: "Run", qty: int, wanted: int, *, at: dt.datetime, by: Actor) -> ForShelf | None:
    """Take a run that was started off what is to be made for the shelf.

    Args:
        run: of a head; the tools this goes into count too, what was asked for first before the others.
        qty: pieces that were started.
        wanted: good heads that lines waited for before it; as many starts as these usually take are theirs.
        at: now.
        by: who started it.

    Returns:
        What the run closes; nothing where it leaves too little for any. A part of it makes it so much smaller.
    """
    transactions.assert_open()
    wishes = _of_head(run.item)
    left = qty - _starts_for(wanted, run) if wishes else 0
    closed: ForShelf | None = None
    for wish in wishes:
        if left <= 0:
            break
        if left < wish.pieces:
            rest = (
                f"What is left of {wish.pieces}, begun with run {run.code}."  # what spoke for the first number is over
            )
            _set(wish, wish.pieces - left, _begun(run), rest, at=at, by=by)
        elif closed is None:
            closed = wish
            ForShelf.objects.filter(pk=wish.pk).update(run=run)
            week.started_for_shelf(run.code, wish.item.code)
            audit.write(
                at=at, by=by.label, action="for the shelf begun", subject=f"item {wish.item.code}",
                before={"pieces": wish.pieces}, after={"run": run.code},
            )  # fmt: skip
        else:  # one run closes one of them; of two that share it the later is done with
            _drop(wish, run.code, at=at, by=by)
        left -= wish.pieces
    return closed


def undone(entry: "Entry", *, at: dt.datetime, by: Actor) -> None:
    """Take up again what a run closed whose start was undone, unless something was put in for the item since."""
    transactions.assert_open()
    for wish in ForShelf.objects.select_for_update(of=("self",)).filter(run__lots__entry=entry):
        again = ForShelf.objects.filter(item=wish.item_id, run=None, dropped_at=None)
        if wish.run is not None and not wish.run.lots.filter(entry__reversed_by=None).exists() and not again.exists():
            wish.run = None
            wish.save(update_fields=["run"])
    begun = {lot.run.pk: lot.run for lot in entry.lots_made.select_related("run") if lot.run is not None}
    for run in begun.values():
        if not run.lots.filter(entry__reversed_by=None).exists():
            _put_back(run, at=at, by=by)


def _put_back(run: "Run", *, at: dt.datetime, by: Actor) -> None:
    """Give what a run took off a larger number back to it, where it is still in the week."""
    for line in AuditLine.objects.filter(action=_begun(run)).order_by("pk"):
        code, taken = line.subject.removeprefix("item "), (line.before or {})["pieces"] - (line.after or {})["pieces"]
        wish = (
            ForShelf.objects.select_for_update(of=("self",)).filter(item__code=code, run=None, dropped_at=None).first()
        )
        if wish is not None:
            _set(wish, wish.pieces + taken, f"start of run {run.code} undone", "", at=at, by=by)


def _made(item: "Item") -> None:
    if not item.active or making.of(item) is None:
        raise Invalid.field(
            "item",
            f"Item: {item.code} is not made here in runs; a head or a tool with a pattern and a route would work.",
        )


def _checked(pieces: int, why: str) -> None:
    if not 1 <= pieces <= MOST:
        raise Invalid.field("pieces", f"Pieces: {pieces} cannot be planned; 1 to {MOST} would work.")
    if len(why) > LONGEST_WHY:
        raise Invalid.field("why", f"Why: longer than {LONGEST_WHY} signs; a sentence would work.")


def _of_head(head: "Item") -> Sequence[ForShelf]:
    """Lock what a run of a head can be for, the first asked for first."""
    items = {head.pk, *(part.tool_id for part in shelf.used_in(head))}
    ids = [one.pk for one in open_wishes() if one.item_id in items]
    rows = ForShelf.objects.select_for_update(of=("self",)).filter(pk__in=ids, run=None, dropped_at=None)
    return sorted(rows.select_related("item").order_by("pk"), key=lambda one: one.asked_at)


def _starts_for(wanted: int, run: "Run") -> int:
    made = making.of(run.item)
    if not wanted or made is None:
        return wanted
    return starts.plain(wanted, learned.ahead(learned.rates(made.pattern, made.walk), 0)).count


def _begun(run: "Run") -> str:
    return f"for the shelf begun with run {run.code}"


def _set(wish: ForShelf, pieces: int, action: str, why: str, *, at: dt.datetime, by: Actor) -> None:
    before, wish.pieces, wish.why = wish.pieces, pieces, why
    wish.save(update_fields=["pieces", "why"])
    audit.write(
        at=at, by=by.label, action=action, subject=f"item {wish.item.code}", before={"pieces": before},
        after={"pieces": pieces},
    )  # fmt: skip


def _drop(wish: ForShelf, run: str, *, at: dt.datetime, by: Actor) -> None:
    wish.dropped_at = at
    wish.save(update_fields=["dropped_at"])
    WeekPin.objects.filter(run_code__startswith=week.for_shelf_of(wish.item.code)).delete()
    audit.write(
        at=at, by=by.label, action="for the shelf dropped", subject=f"item {wish.item.code}",
        before={"pieces": wish.pieces}, after={"made with run": run} if run else None,
    )  # fmt: skip

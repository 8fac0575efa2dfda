"""Taking pieces out for a sample, gift, own tooling, trial piece, photo or show; the last two come back."""

import datetime as dt

from django.db.models import F

from inventory.models import Entry, Item, Lot, Place, TakeOut
from inventory.services import catalogue, counting, ledger
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal

COMES_BACK_TO = ("SHELF", "INSPECT")


class NotOut(Refusal):
    """Fewer are out than were said to come back."""

    code = "not_out"


def take_out(
    item: Item,
    qty: int,
    why: str,
    *,
    locks: Locks,
    stamp: Stamp,
    for_whom: str = "",
    due_back: dt.date | None = None,
    place: Place | None = None,
) -> TakeOut:
    """Take free pieces out, oldest lot first; what comes back stands at *out* until it does."""
    transactions.assert_open()
    _check(item, qty, why, due_back)
    entry = ledger.commit(
        Entry.Kind.TAKE_OUT,
        counting.free_lines(item, qty, catalogue.place(_goes_to(why)), place=place),
        locks=locks,
        stamp=stamp,
    )
    return TakeOut.objects.create(
        why=why, item=item, qty=qty, for_whom=for_whom.strip()[:120], due_back=due_back, entry=entry
    )


def take_back(taken: TakeOut, qty: int, *, locks: Locks, stamp: Stamp, to: str = "SHELF") -> Entry:
    """Bring pieces back from a photo or a show: to the shelf, or to inspection where they need a look."""
    transactions.assert_open()
    if to not in COMES_BACK_TO:
        raise Invalid.field("to", f"To: {to!r} is neither SHELF nor INSPECT; choose one of the two.")
    if taken.why not in TakeOut.COMING_BACK:
        raise NotOut(f"Pieces taken out as {taken.why} do not come back; move them in or count them instead.")
    rows = 0
    if qty >= 1:
        open_ones = TakeOut.objects.filter(pk=taken.pk, back__lte=F("qty") - qty, entry__reversed_by=None)
        rows = open_ones.update(back=F("back") + qty)
    taken.refresh_from_db()
    if rows != 1:
        out = taken.qty - taken.back
        raise NotOut(
            f"{out} of take-out {taken.pk} are still out, not {qty}; bring back 1 to {out}.", {"qty": f"{out} out."}
        )
    lines = _lines_back(taken, taken.back - qty, qty, catalogue.place(to))
    entry = ledger.commit(Entry.Kind.TAKE_BACK, lines, locks=locks, stamp=stamp)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="brought back",
        subject=f"take-out {taken.pk}",
        after={"qty": qty, "to": to, "entry": entry.pk},
    )
    return entry


def _lines_back(taken: TakeOut, before: int, qty: int, target: Place) -> list[Line]:
    """Return its own pieces in the order they went out, leaving out those that came back before."""
    out, lines, skip, left = catalogue.place("OUT"), [], before, qty
    for movement in taken.entry.movements.select_related("lot__item").order_by("line"):
        there = max(0, movement.qty - skip)
        skip = max(0, skip - movement.qty)
        take = min(left, there)
        if take:
            lines.append(Line(lot=movement.lot, qty=take, source=out, target=_target(movement.lot, target)))
            left -= take
    return lines


def _target(lot: Lot, target: Place) -> Place:
    # "The shelf" is where the item usually stands: a handle goes back to its bin.
    return catalogue.place(catalogue.HOME[Item.Kind(lot.item.kind)]) if target.code == "SHELF" else target


def _goes_to(why: str) -> str:
    if why in TakeOut.COMING_BACK:
        return "OUT"
    return "CUSTOMER" if why == TakeOut.Why.GIFT else "OWN-USE"


def _check(item: Item, qty: int, why: str, due_back: dt.date | None) -> None:
    if why not in TakeOut.Why.values:
        raise Invalid.field("why", f"Why: {why!r} is none of {', '.join(TakeOut.Why.values)}; choose one.")
    if not 1 <= qty <= catalogue.MOST:
        raise Invalid.field("qty", f"Quantity: {qty} is out of range; 1 or more would work.")
    if item.kind == Item.Kind.BAR:
        raise Invalid.field("item", f"{item.code} is steel in bars; a length for own tooling is cut off a bar.")
    if due_back is not None and why not in TakeOut.COMING_BACK:
        raise Invalid.field("due_back", f"Due back: what is taken out as {why} does not come back; leave it empty.")

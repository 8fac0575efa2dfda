"""What a person finds when looking: counts, use, moves, losses, and what is not to be used.

These functions take pieces that are free. Where set-aside pieces are touched, the flow lets orders give way first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.models import Entry, Holding, Item, Lot, Melt, Place
from inventory.services import allocating, arriving, catalogue, ledger
from inventory.services.allocating import NotEnough
from inventory.services.arriving import Arrival
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal

STEEL = (Item.Kind.BLANK, Item.Kind.HEAD)
USED_UP = ("OWN-USE", "WORKED-UP")


class StillSetAside(Refusal):
    """Pieces that are set aside cannot go to a place from which nothing is sold."""

    code = "still_set_aside"


class NothingThere(Refusal):
    """Nothing of the lot stands where it would be taken from."""

    code = "nothing_there"


@dataclass(frozen=True, slots=True)
class Counted:
    """A count: what the book said, what was found, and the entry where the two differ."""

    before: int
    found: int
    entry: Entry | None

    @property
    def difference(self) -> int:
        """Return what was found too much; negative where pieces were missing."""
        return self.found - self.before


def standing(item: Item, place: Place) -> list[Holding]:
    """Return what stands of an item at a place, oldest lot first."""
    there = Holding.objects.filter(item=item, place=place, step=0, on_hand__gt=0)
    return list(there.select_related("lot__item", "lot__melt", "place").order_by("lot_id", "id"))


def check_count(item: Item, place: Place, found: int) -> None:
    """Refuse a count that cannot be one."""
    if item.kind == Item.Kind.BAR:
        raise Invalid.field("item", f"{item.code} is steel in bars: re-measure a bar or write it off, one by one.")
    if not place.inside:
        raise Invalid.field("place", f"Place: {place.name} is outside the shop; count at a place inside.")
    if not 0 <= found <= catalogue.MOST:
        raise Invalid.field("found", "Counted: write what is there, 0 or more.")


def count(item: Item, place: Place, found: int, *, locks: Locks, stamp: Stamp) -> Counted:
    """Book the difference between the book and what was counted at a place; a count that is right is noted too."""
    transactions.assert_open()
    check_count(item, place, found)
    holdings = standing(item, place)
    before = sum(holding.on_hand for holding in holdings)
    entry = None
    if found < before:
        entry = ledger.commit(Entry.Kind.COUNT, _missing(holdings, before - found), locks=locks, stamp=stamp)
    elif found > before:
        entry = _surplus(item, place, found - before, locks, stamp)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="counted",
        subject=f"item {item.code}",
        before={"place": place.code, "qty": before},
        after={"qty": found, "entry": entry.pk if entry else None},
        reason=stamp.reason,
    )
    return Counted(before, found, entry)


def _missing(holdings: Sequence[Holding], qty: int) -> list[Line]:
    difference, lines, left = catalogue.place("DIFFERENCE"), [], qty
    for holding in holdings:
        take = min(left, holding.on_hand - holding.allocated)
        if take:
            lines.append(Line(lot=holding.lot, qty=take, source=holding.place, target=difference))
            left -= take
    if left:
        raise NotEnough(
            f"{left} of the missing pieces are set aside; let the orders give way first.",
            facts={"set_aside": left},
        )
    return lines


def _surplus(item: Item, place: Place, qty: int, locks: Locks, stamp: Stamp) -> Entry:
    """Book more than the book knew: to the newest lot, but never to steel of a known melt that nobody read."""
    difference = catalogue.place("DIFFERENCE")
    lots = Lot.objects.filter(item=item).exclude(melt__known=True).select_related("item", "melt")
    newest = lots.order_by("-id").first()
    if newest is not None:
        line = Line(lot=newest, qty=qty, source=difference, target=place)
        return ledger.commit(Entry.Kind.COUNT, [line], locks=locks, stamp=stamp)
    arrival = Arrival(item=item, qty=qty, place=place, melt=_unknown_melt(item))
    entry, _ = arriving.arrive(Entry.Kind.COUNT, [arrival], source=difference, locks=locks, stamp=stamp)
    return entry


def _unknown_melt(item: Item) -> Melt | None:
    if item.kind not in STEEL:
        return None
    known = Lot.objects.filter(item=item, melt__isnull=False).select_related("melt__grade").order_by("-id").first()
    grade = item.grade or (known.melt.grade if known and known.melt else None)
    if grade is None:
        raise Invalid.field("item", f"{item.code} has no grade in the book; move these in with their grade instead.")
    return catalogue.melt(grade=grade, heat_number="unknown")


def free_lines(item: Item, qty: int, target: Place, *, place: Place | None = None) -> list[Line]:
    """Return the movements that take so many free pieces to a place, oldest lot first, or refuse."""
    there = Holding.objects.filter(item=item, step=0, on_hand__gt=F("allocated"))
    there = there.filter(place=place) if place else there.filter(place__sellable=True)
    lines, left = [], qty
    for holding in there.select_related("lot__item", "place").order_by("lot_id", "id"):
        take = min(left, holding.on_hand - holding.allocated)
        lines.append(Line(lot=holding.lot, qty=take, source=holding.place, target=target))
        left -= take
        if not left:
            return lines
    raise NotEnough(
        f"{qty - left} of {item.code} are free, not {qty}; take fewer, let go what is set aside, or count the place.",
        {"qty": f"Only {qty - left} are free."},
        {"available": qty - left, "requested": qty},
    )


def own_use() -> Place:
    """Return the outside place for what the shop uses itself."""
    return catalogue.place("OWN-USE")


def use(
    item: Item, qty: int, *, locks: Locks, stamp: Stamp, what_for: str = "OWN-USE", place: Place | None = None
) -> Entry:
    """Book free pieces, mass or volume as used: for the shop itself, or worked up into what is made."""
    if what_for not in USED_UP:
        raise Invalid.field("what_for", f"What for: {what_for!r} is neither own use nor worked up; choose one.")
    _at_least_one(qty)
    if item.kind == Item.Kind.BAR:
        raise Invalid.field("item", f"{item.code} is steel in bars; a length off a bar is cut, not used.")
    return ledger.commit(
        Entry.Kind.USE, free_lines(item, qty, catalogue.place(what_for), place=place), locks=locks, stamp=stamp
    )


def move(lot: Lot, qty: int, *, source: Place, target: Place, locks: Locks, stamp: Stamp) -> Entry:
    """Move pieces from one rack, bin or shelf to another; those that are set aside go along and stay set aside."""
    _at_least_one(qty)
    there = holding_of(lot, source)
    _check_move(lot, there, qty, target)
    along = max(0, qty - (there.on_hand - there.allocated))
    lifted = allocating.lift(locks, there, along) if along else []
    line = Line(lot=lot, qty=qty, source=source, target=target)
    entry = ledger.commit(Entry.Kind.MOVE, [line], locks=locks, stamp=stamp)
    if lifted:
        allocating.put_down(locks, Holding.objects.get(lot=lot, place=target, step=0), lifted)
    return entry


def _check_move(lot: Lot, there: Holding, qty: int, target: Place) -> None:
    if target == there.place:
        raise Invalid.field("target", f"To: it stands at {target.name} already; choose another place.")
    if not (there.place.sellable and target.sellable):
        wrong = there.place if not there.place.sellable else target
        raise Invalid.field(
            "target", f"To: {wrong.name} is no rack, bin or shelf; what stands there is booked otherwise."
        )
    if qty > there.on_hand:
        raise Invalid.field("qty", f"Quantity: {there.on_hand} stand at {there.place.name}; move 1 to {there.on_hand}.")
    if lot.item.kind == Item.Kind.BAR and (target.kind != Place.Kind.RACK or qty != there.on_hand):
        raise Invalid.field("target", f"To: bar {lot.bar.number} moves whole and to a slot of the rack; choose one.")


def write_off(
    lot: Lot, qty: int, *, place: Place, cause: str, lost: bool, locks: Locks, stamp: Stamp, step: int = 0
) -> Entry:
    """Book pieces as scrap, or as lost where nobody knows where they went; the cause is part of the entry."""
    _at_least_one(qty)
    if not cause.strip():
        raise Invalid.field("cause", "Cause: say why, such as dropped, rusted or not found.")
    there = holding_of(lot, place, step=step)
    if qty > there.on_hand:
        raise Invalid.field("qty", f"Quantity: {there.on_hand} stand at {place.name}; write off 1 to {there.on_hand}.")
    target = catalogue.place("DIFFERENCE" if lost else "SCRAP")
    line = Line(lot=lot, qty=qty, source=place, source_step=step, target=target)
    said = Stamp(stamp.at, stamp.by, stamp.happened_at, stamp.device, cause.strip()[:300])
    return ledger.commit(Entry.Kind.COUNT if lost else Entry.Kind.MOVE, [line], locks=locks, stamp=said)


def inside(lot: Lot) -> list[Holding]:
    """Return where a lot stands inside the shop, *not to be used* left out."""
    there = Holding.objects.filter(lot=lot, on_hand__gt=0, place__inside=True)
    there = there.exclude(place__kind__in=(Place.Kind.NOT_TO_BE_USED, Place.Kind.OUT))
    return list(there.select_related("lot__item", "place").order_by("id"))


def not_to_be_used(lot: Lot, *, locks: Locks, stamp: Stamp) -> Entry:
    """Take a whole lot or bar out of use at once, wherever it stands in the shop."""
    if not stamp.reason.strip():
        raise Invalid.field("reason", "Reason: say what is wrong or doubtful about it.")
    holdings = inside(lot)
    if not holdings:
        raise NothingThere(f"Nothing of lot {lot.code} stands in the shop; look in the Book where it went.")
    shut = catalogue.place("NOT-USED")
    lines = [
        Line(lot=lot, qty=h.on_hand, source=h.place, source_step=h.step, target=shut, target_step=h.step)
        for h in holdings
    ]
    return ledger.commit(Entry.Kind.NOT_TO_BE_USED, lines, locks=locks, stamp=stamp)


def back_in_use(lot: Lot, *, locks: Locks, stamp: Stamp, place: Place | None = None) -> Entry:
    """Put a lot back that was not to be used; the owner decides, and says why."""
    if not stamp.reason.strip():
        raise Invalid.field("reason", "Reason: say why it may be used again.")
    shut = Holding.objects.filter(lot=lot, place__kind=Place.Kind.NOT_TO_BE_USED, on_hand__gt=0)
    lines = [
        Line(
            lot=lot,
            qty=holding.on_hand,
            source=holding.place,
            source_step=holding.step,
            target=_home(lot, holding.step, place),
            target_step=holding.step,
        )
        for holding in shut.select_related("place").order_by("id")
    ]
    if not lines:
        raise NothingThere(f"Nothing of lot {lot.code} stands under *not to be used*; it may be used already.")
    return ledger.commit(Entry.Kind.MOVE, lines, locks=locks, stamp=stamp)


def _home(lot: Lot, step: int, place: Place | None) -> Place:
    if step:
        return catalogue.place("FLOOR")
    if lot.item.kind == Item.Kind.BAR and not lot.bar.measured:
        return catalogue.place("DOOR")
    if place is not None and not place.sellable:
        raise Invalid.field("place", f"Place: {place.name} is no rack, bin or shelf; choose one.")
    return place or catalogue.place(catalogue.HOME[Item.Kind(lot.item.kind)])


def holding_of(lot: Lot, place: Place, *, step: int = 0) -> Holding:
    """Return what stands of a lot at a place, or refuse."""
    found = Holding.objects.filter(lot=lot, place=place, step=step, on_hand__gt=0).select_related("place").first()
    if found is None:
        raise NothingThere(f"Nothing of lot {lot.code} stands at {place.name}; choose the place where it stands.")
    return found


def _at_least_one(qty: int) -> None:
    if not 1 <= qty <= catalogue.MOST:
        raise Invalid.field("qty", f"Quantity: {qty} is out of range; 1 or more would work.")

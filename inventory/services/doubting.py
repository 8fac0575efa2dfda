"""Steel that is wrong or doubtful: sent back to the supplier, without a name since its paint is lost, a whole melt."""

from collections.abc import Sequence

from inventory.models import Bar, Entry, Holding, Item, Lot, LotParent, Melt, Place
from inventory.services import arriving, catalogue, counting, grade_book, ledger, steel_items
from inventory.services.arriving import Arrival, BarFacts
from inventory.services.counting import NothingThere
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal


class NameStillKnown(Refusal):
    """The bar's grade is unknown already, or is known by other means."""

    code = "name_known"


def unnamed_item(bar: Bar, *, stamp: Stamp) -> Item:
    """Return the item that a bar becomes when nobody can say its grade any more."""
    return steel_items.bar_item(grade_book.unknown_grade(), bar.section, at=stamp.at, by=stamp.by)


def paint_lost(bar: Bar, unnamed: Item, *, locks: Locks, stamp: Stamp) -> tuple[Entry, Bar]:
    """Book that a bar's painted end is lost: it stays where it stands as steel of unknown grade, under a new number."""
    transactions.assert_open()
    if bar.lot.item_id == unnamed.pk:
        raise NameStillKnown(f"Bar {bar.number} is of unknown grade already.")
    holding = Holding.objects.filter(lot_id=bar.pk, on_hand__gt=0).select_related("place").first()
    if holding is None:
        raise NothingThere(f"Nothing of bar {bar.number} is left in the shop; look in the Book where it went.")
    worked_up = catalogue.place("WORKED-UP")
    melt = catalogue.melt(grade=grade_book.unknown_grade(), heat_number="unknown")
    facts = BarFacts(section=bar.section, typed=bar.typed, measured=bar.measured, parent=bar)
    arrival = Arrival(
        item=unnamed,
        qty=holding.on_hand,
        place=holding.place,
        melt=melt,
        bar=facts,
        cost_minor=bar.lot.cost_minor,
        parents=[(bar.lot, holding.on_hand)],
    )
    entry = ledger.begin(Entry.Kind.PAINT_LOST, lines=2, stamp=stamp)
    lots = arriving.make_lots(entry, [arrival])
    away = Line(lot=bar.lot, qty=holding.on_hand, source=holding.place, target=worked_up)
    ledger.post(entry, [away, *arriving.lines_in(lots, [arrival], worked_up)], locks)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="paint lost",
        subject=f"bar {bar.number}",
        after={"entry": entry.pk, "lot": lots[0].code},
        reason=stamp.reason,
    )
    return entry, Bar.objects.get(lot=lots[0])


def send_back(lot: Lot, *, locks: Locks, stamp: Stamp) -> Entry:
    """Book that a lot that came in a delivery goes back to the supplier, whole."""
    transactions.assert_open()
    if lot.delivery_line_id is None:
        raise Invalid.field("lot", f"Lot {lot.code} came in no delivery; scrap it instead.")
    if not stamp.reason.strip():
        raise Invalid.field("reason", "Why: say why it goes back.")
    there = Holding.objects.filter(lot=lot, on_hand__gt=0, place__inside=True).exclude(place__kind=Place.Kind.OUT)
    supplier = catalogue.place("SUPPLIER")
    lines = [
        Line(lot=lot, qty=h.on_hand, source=h.place, source_step=h.step, target=supplier)
        for h in there.select_related("place").order_by("id")
    ]
    if not lines:
        raise NothingThere(f"Nothing of lot {lot.code} stands in the shop; look in the Book where it went.")
    return ledger.commit(Entry.Kind.SENT_BACK, lines, locks=locks, stamp=stamp)


def standing_of(melt: Melt) -> list[Lot]:
    """Return every lot of a melt, or made of it, of which something stands in the shop and may still be used."""
    family = set(Lot.objects.filter(melt=melt).values_list("pk", flat=True))
    fresh = family
    while fresh:
        fresh = set(LotParent.objects.filter(parent__in=fresh).values_list("child_id", flat=True)) - family
        family |= fresh
    lots = Lot.objects.filter(pk__in=family).select_related("item", "melt", "bar").order_by("id")
    return [lot for lot in lots if counting.inside(lot)]


def items_of(lots: Sequence[Lot]) -> set[int]:
    """Return the items whose rows must be locked to take these lots out of use."""
    return {lot.item_id for lot in lots}

"""New lots coming into the book: from a supplier, from before the book, from worked-up parts or from a customer."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from inventory.models import BAR_ALPHABET, Bar, DeliveryLine, Entry, Item, Lot, LotParent, Melt, Place, Section
from inventory.services import ledger
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import series
from shop.shared.errors import Invalid


@dataclass(frozen=True, slots=True)
class BarFacts:
    """What is known of one bar: its length as typed, whether it was measured, what it weighs and who said so."""

    section: Section
    typed: str
    measured: bool = True
    number: str = ""
    mass_mg: int | None = None
    mass_typed: str = ""
    weighed_by: str = ""
    parent: Bar | None = None


@dataclass(frozen=True, slots=True)
class Arrival:
    """One lot that comes in; quantity in the item's unit, cost of the whole lot in minor units."""

    item: Item
    qty: int
    place: Place
    melt: Melt | None = None
    step: int = 0
    bar: BarFacts | None = None
    cost_minor: int | None = None
    delivery_line: DeliveryLine | None = None
    quality: str = Lot.Quality.FIRST
    parents: Sequence[tuple[Lot, int]] = field(default_factory=tuple)
    mass_mg: int | None = None
    basis: str = ""


def make_lots(entry: Entry, arrivals: Sequence[Arrival]) -> list[Lot]:
    """Make the lots of an entry that was begun, with their bars and their parents."""
    return [_make_lot(entry, arrival) for arrival in arrivals]


def lines_in(lots: Sequence[Lot], arrivals: Sequence[Arrival], source: Place) -> list[Line]:
    """Return the movements that bring new lots from an outside place to where they stand."""
    return [
        Line(lot=lot, qty=a.qty, source=source, target=a.place, target_step=a.step, mass_mg=a.mass_mg, basis=a.basis)
        for lot, a in zip(lots, arrivals, strict=True)
    ]


def arrive(
    kind: str, arrivals: Sequence[Arrival], *, source: Place, locks: Locks, stamp: Stamp
) -> tuple[Entry, list[Lot]]:
    """Bring new lots in from an outside place by one entry."""
    entry = ledger.begin(kind, lines=len(arrivals), stamp=stamp)
    lots = make_lots(entry, arrivals)
    ledger.post(entry, lines_in(lots, arrivals, source), locks)
    return entry, lots


def _make_lot(entry: Entry, arrival: Arrival) -> Lot:
    steel = arrival.item.kind in (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD)
    if steel and arrival.melt is None:
        raise Invalid.field("heat_number", f"{arrival.item.code} is steel: give its mill heat number, or unknown.")
    lot = Lot.objects.create(
        code=f"L{series.take('lot')}",
        item=arrival.item,
        melt=arrival.melt,
        entry=entry,
        delivery_line=arrival.delivery_line,
        quality=arrival.quality,
        cost_minor=arrival.cost_minor,
        born_at=entry.happened_at,
    )
    if arrival.bar is not None:
        _make_bar(lot, arrival, arrival.bar)
    LotParent.objects.bulk_create(
        [LotParent(child=lot, parent=parent, quantity=qty) for parent, qty in arrival.parents]
    )
    return lot


def _make_bar(lot: Lot, arrival: Arrival, facts: BarFacts) -> None:
    number = facts.number.strip().upper() or next_bar_number()
    if not 1 <= len(number) <= 4 or not set(number) <= set(BAR_ALPHABET):
        raise Invalid.field(
            "number", f"The bar number {number!r} must be 1 to 4 letters or figures without O, 0, I, 1."
        )
    if Bar.objects.filter(number=number).exists():
        raise Invalid.field("number", f"Bar {number} is in the book already; paint another number on this end.")
    Bar.objects.create(
        lot=lot,
        number=number,
        section=facts.section,
        length_nm=arrival.qty,
        typed=facts.typed,
        measured=facts.measured,
        mass_mg=facts.mass_mg,
        mass_typed=facts.mass_typed,
        weighed_by=facts.weighed_by,
        parent=facts.parent,
    )


def next_bar_number() -> str:
    """Return the next bar number that nobody has painted yet: three signs, then four."""
    base = len(BAR_ALPHABET)
    while True:
        count = series.take("bar") + base * base  # starts at three signs
        number = ""
        while count:
            count, digit = divmod(count, base)
            number = BAR_ALPHABET[digit] + number
        if not Bar.objects.filter(number=number).exists():
            return number

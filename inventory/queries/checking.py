"""Recomputes the book's counters from its movements and names every row that differs."""

from collections import defaultdict
from collections.abc import Iterator

from django.db.models import Case, Count, F, IntegerField, Sum, Value, When

from inventory.models import AllocationPart, Bar, Entry, Holding, ItemStock, Lot, Movement, Place
from inventory.queries import seals
from shop.shared import append_only

_CHUNK = 2000


def differences() -> Iterator[str]:
    """Yield one sentence for each row of the stock tables that does not agree with the movements."""
    yield from _triggers()
    yield from _rows_altered()
    yield from _holdings()
    yield from _allocated()
    yield from _item_stock()
    yield from _lots()


def _triggers() -> Iterator[str]:
    for name in sorted(append_only.wanted() - append_only.present()):
        yield f"The trigger {name} that keeps the book append-only is missing; run after_migrate."


def _rows_altered() -> Iterator[str]:
    counts = dict(Movement.objects.values_list("entry_id").annotate(n=Count("id")))
    for entry in Entry.objects.order_by("id").iterator(_CHUNK):
        if entry.seal != seals.entry_seal(entry):
            yield f"Entry {entry.pk} was altered after it was booked."
        if counts.get(entry.pk, 0) != entry.lines:
            yield f"Entry {entry.pk} was booked with {entry.lines} lines and has {counts.get(entry.pk, 0)}."
    for movement in Movement.objects.order_by("id").iterator(_CHUNK):
        if movement.seal != seals.movement_seal(movement):
            yield f"Movement {movement.pk} (entry {movement.entry_id}, line {movement.line}) was altered."


def _holdings() -> Iterator[str]:
    moved: dict[tuple[int, int, int], int] = defaultdict(int)
    inside = set(Place.objects.filter(inside=True).values_list("pk", flat=True))
    for sign, place, at_step_name in ((1, "to_place_id", "to_step"), (-1, "from_place_id", "from_step")):
        rows = Movement.objects.filter(**{f"{place}__in": inside}).values_list("lot_id", place, at_step_name)
        for lot_id, place_id, at_step, total in rows.annotate(total=Sum("qty")):
            moved[lot_id, place_id, at_step] += sign * int(total)
    for holding in Holding.objects.order_by("id").iterator(_CHUNK):
        wanted = moved.pop((holding.lot_id, holding.place_id, holding.step), 0)
        if holding.on_hand != wanted:
            yield f"Holding {holding.pk} says {holding.on_hand} on hand; its movements come to {wanted}."
        if holding.place_id not in inside:
            yield f"Holding {holding.pk} stands at an outside place, which carries no counter."
    for (lot_id, place_id, step), total in sorted(moved.items()):
        if total:
            yield f"Lot {lot_id} at place {place_id} step {step}: movements come to {total} and no holding says so."
    for movement in Movement.objects.exclude(item_id=F("lot__item_id")).order_by("id"):
        yield f"Movement {movement.pk} names another item than its lot {movement.lot_id}."
    for holding in Holding.objects.exclude(item_id=F("lot__item_id")).order_by("id"):
        yield f"Holding {holding.pk} names another item than its lot {holding.lot_id}."


def _allocated() -> Iterator[str]:
    totals = dict(AllocationPart.objects.filter(open=True).values_list("holding_id").annotate(total=Sum("qty")))
    for holding in Holding.objects.order_by("id").iterator(_CHUNK):
        total = int(totals.get(holding.pk, 0))
        if holding.allocated != total:
            yield f"Holding {holding.pk} says {holding.allocated} set aside; its open parts come to {total}."
    for part in AllocationPart.objects.filter(open=True, allocation__closed_at__isnull=False).order_by("id"):
        yield f"Allocation part {part.pk} is open in the closed allocation {part.allocation_id}."
    for part in AllocationPart.objects.filter(open=True).exclude(item_id=F("holding__item_id")).order_by("id"):
        yield f"Allocation part {part.pk} names another item than its holding {part.holding_id}."
    unsellable = Holding.objects.filter(allocated__gt=0).exclude(place__sellable=True, step=0)
    for holding in unsellable.order_by("id"):
        yield f"Holding {holding.pk} is set aside at a place from which nothing may be sold."


def _item_stock() -> Iterator[str]:
    sellable = Case(
        When(place__sellable=True, step=0, then=F("on_hand")), default=Value(0), output_field=IntegerField()
    )
    totals = {
        item_id: (int(there or 0), int(allocated or 0))
        for item_id, there, allocated in Holding.objects.values_list("item_id").annotate(
            there=Sum(sellable), allocated_total=Sum("allocated")
        )
    }
    for row in ItemStock.objects.order_by("item_id").iterator(_CHUNK):
        there, allocated = totals.pop(row.item_id, (0, 0))
        if row.sellable != there:
            yield f"Item stock {row.item_id} says {row.sellable} sellable; its holdings come to {there}."
        if row.allocated != allocated:
            yield f"Item stock {row.item_id} says {row.allocated} set aside; its holdings come to {allocated}."
    for item_id in sorted(totals):
        yield f"Item {item_id} has holdings and no stock row."


def _lots() -> Iterator[str]:
    for lot in Lot.objects.filter(item__kind="bar", bar=None).order_by("id"):
        yield f"Lot {lot.code} is a bar and has no bar row."
    for bar in Bar.objects.exclude(lot__item__section_id=F("section_id")).order_by("lot_id"):
        yield f"Bar {bar.number} has another section than its item."
    first = Movement.objects.values_list("lot_id").annotate(n=Count("id"))
    with_moves = {lot_id for lot_id, _ in first}
    for lot_id, code in Lot.objects.order_by("id").values_list("id", "code"):
        if lot_id not in with_moves:
            yield f"Lot {code} came from nowhere: no movement brings it in."

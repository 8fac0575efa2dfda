"""Holdings, the items' counters, what is set aside, and the places they stand at."""

from collections import defaultdict
from collections.abc import Iterator

from django.db.models import BigIntegerField, Case, F, Q, Sum, Value, When

from inventory.models import Allocation, AllocationPart, BookClose, Holding, Item, ItemStock, Lot, Movement, Place
from inventory.queries.checking.span import CHUNK, Span

Key = tuple[int, int, int]  # lot, place, step
MOST_NAMED = 8  # rows named in one sentence


def differences(span: Span) -> Iterator[str]:
    """Yield what differs between the counters and the movements and allocations they sum up."""
    yield from _places()
    yield from _holdings(span)
    yield from _set_aside()
    yield from _allocations()
    yield from _item_stock()


def named(ids: list[int]) -> str:
    """Name rows by id, the first few of many."""
    return ", ".join(map(str, ids[:MOST_NAMED])) + (" and more" if len(ids) > MOST_NAMED else "")


def moved(*, after: int = 0, upto: int | None = None) -> dict[Key, int]:
    """Return what the movements of a stretch come to at each inside place."""
    balance: dict[Key, int] = defaultdict(int)
    inside = list(Place.objects.filter(inside=True).values_list("pk", flat=True))
    stretch = Movement.objects.filter(pk__gt=after)
    if upto is not None:
        stretch = stretch.filter(pk__lte=upto)
    for sign, place, step in ((1, "to_place_id", "to_step"), (-1, "from_place_id", "from_step")):
        sums = stretch.filter(**{f"{place}__in": inside}).order_by().values_list("lot_id", place, step)
        for lot, at, at_step, total in sums.annotate(total=Sum("qty")).iterator(CHUNK):
            balance[lot, at, at_step] += sign * int(total)
    return balance


def _places() -> Iterator[str]:
    for code, kind, sellable in Place.objects.order_by("pk").values_list("code", "kind", "sellable"):
        if sellable != (kind in Place.SELLABLE):
            yield f"Place {code} is a {kind} and is marked {'to sell from' if sellable else 'not to sell from'}."


def _holdings(span: Span) -> Iterator[str]:
    balance = _balance(span)
    since = f" counted from the close of {span.month:%Y-%m}" if span.month else ""
    holdings = Holding.objects.order_by("pk").values_list(
        "pk", "lot_id", "place_id", "step", "on_hand", "lot__code", "place__code", "place__inside"
    )  # fmt: skip
    for pk, lot, place, step, on_hand, code, at, inside in holdings.iterator(CHUNK):
        wanted = balance.pop((lot, place, step), 0)
        if on_hand != wanted:
            yield f"{_name(pk, code, at)} says {on_hand} on hand; its movements{since} come to {wanted}."
        if on_hand and not inside:
            yield f"{_name(pk, code, at)} stands at an outside place, which carries no counter."
    for (lot, place, step), total in sorted(balance.items()):
        if total:
            yield f"{where(lot, place, step)}: movements come to {total} and no holding says so."
    mixed = Holding.objects.exclude(item_id=F("lot__item_id")).order_by("pk")
    for pk, code, at in mixed.values_list("pk", "lot__code", "place__code"):
        yield f"{_name(pk, code, at)} names another item than its lot."


def _balance(span: Span) -> dict[Key, int]:
    """Return what stands at each inside place by the movements, from the last close on where the span says so."""
    balance = moved(after=span.after)
    if span.month:
        closed = BookClose.objects.filter(month=span.month)
        rows = closed.values_list("holding__lot_id", "holding__place_id", "holding__step", "qty")
        for lot, place, step, qty in rows.iterator(CHUNK):
            balance[lot, place, step] += qty
    return balance


def _set_aside() -> Iterator[str]:
    parts = _open_parts()
    open_parts = AllocationPart.objects.filter(open=True).values("holding_id")
    holdings = Holding.objects.filter(Q(allocated__gt=0) | Q(pk__in=open_parts)).order_by("pk")
    names = ("pk", "allocated", "lot__code", "place__code", "step", "place__sellable")
    for pk, allocated, code, at, step, sellable in holdings.values_list(*names).iterator(CHUNK):
        total, ids = parts.get(pk, (0, []))
        if allocated != total:
            said = (
                f"its open allocation parts ({named(ids)}) come to {total}" if ids else "it has no open allocation part"
            )
            yield f"{_name(pk, code, at)} says {allocated} set aside; {said}."
        if allocated and not (sellable and step == 0):
            yield f"{_name(pk, code, at)} is set aside at a place from which nothing may be sold."


def where(lot: int, place: int, step: int) -> str:
    """Return how people call a lot and the place it stands at."""
    code = Lot.objects.values_list("code", flat=True).get(pk=lot)
    at = Place.objects.values_list("code", flat=True).get(pk=place)
    return f"Lot {code} at {at}" + (f" after step {step}" if step else "")


def _name(pk: int, code: str, at: str) -> str:
    return f"Holding {pk} (lot {code} at {at})"


def _open_parts() -> dict[int, tuple[int, list[int]]]:
    """Return what the open parts on each holding come to, and which they are."""
    parts: dict[int, tuple[int, list[int]]] = {}
    rows = AllocationPart.objects.filter(open=True).order_by("pk").values_list("pk", "holding_id", "qty")
    for pk, holding, qty in rows.iterator(CHUNK):
        total, ids = parts.get(holding, (0, []))
        parts[holding] = (total + qty, [*ids, pk])
    return parts


def _allocations() -> Iterator[str]:
    parts = AllocationPart.objects.filter(open=True).order_by("pk")
    for pk, allocation in parts.filter(allocation__closed_at__isnull=False).values_list("pk", "allocation_id"):
        yield f"Allocation part {pk} is open in the closed allocation {allocation}."
    for pk, holding in parts.exclude(item_id=F("holding__item_id")).values_list("pk", "holding_id"):
        yield f"Allocation part {pk} names another item than its holding {holding}."
    partly = parts.filter(item__kind=Item.Kind.BAR).exclude(qty=F("holding__on_hand"))
    for pk, number in partly.values_list("pk", "holding__lot__bar__number"):
        yield f"Allocation part {pk} sets aside some of bar {number}; a bar is set aside whole or not at all."
    empty = Allocation.objects.filter(closed_at=None).exclude(pk__in=parts.values("allocation_id")).order_by("pk")
    for pk in empty.values_list("pk", flat=True):
        yield f"Allocation {pk} is open and holds nothing."


def _item_stock() -> Iterator[str]:
    sells = When(place__sellable=True, step=0, then=F("on_hand"))
    sellable = Case(sells, default=Value(0), output_field=BigIntegerField())
    sums = Holding.objects.order_by().values_list("item_id").annotate(there=Sum(sellable), aside=Sum("allocated"))
    totals = {item: (int(there or 0), int(aside or 0)) for item, there, aside in sums}
    rows = ItemStock.objects.order_by("pk").values_list("pk", "item__code", "sellable", "allocated")
    for pk, code, says_there, says_aside in rows.iterator(CHUNK):
        there, aside = totals.pop(pk, (0, 0))
        if says_there != there:
            yield f"Item stock of {code} says {says_there} may be sold; its holdings come to {there}."
        if says_aside != aside:
            yield f"Item stock of {code} says {says_aside} set aside; its holdings come to {aside}."
    for code in Item.objects.filter(stock=None).order_by("pk").values_list("code", flat=True):
        yield f"Item {code} has no stock row."

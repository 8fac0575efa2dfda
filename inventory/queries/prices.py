"""What goods cost: the supplier's noted prices, else what was paid last."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from inventory.models import DeliveryLine, Item, PurchaseOrderLine, SupplierPrice

MOST_LENGTHS = 10


def noted(suppliers: Iterable[int]) -> Mapping[tuple[int, int], list[SupplierPrice]]:
    """Return the noted prices by supplier and item, by length and quantity."""
    found: dict[tuple[int, int], list[SupplierPrice]] = defaultdict(list)
    rows = SupplierPrice.objects.filter(supplier__in=set(suppliers)).order_by("length_nm", "from_qty")
    for one in rows:
        found[one.supplier_id, one.item_id].append(one)
    return found


def unit_costs(items: Mapping[int, Item]) -> dict[int, float]:
    """Return what one unit of an item costs, minor units: noted by its supplier, else paid last, else ordered at last.

    Items of which no price is known are left out.
    """
    found: dict[int, float] = {}
    ordered = PurchaseOrderLine.objects.filter(price_minor__isnull=False).order_by("pk")
    for item, price, qty in ordered.values_list("item_id", "price_minor", "qty").iterator(chunk_size=5_000):
        found[item] = (price or 0) / qty
    paid = DeliveryLine.objects.filter(cost_minor__isnull=False, delivery__state="booked").order_by("pk")
    for item, cost, qty in paid.values_list("item_id", "cost_minor", "qty").iterator(chunk_size=5_000):
        found[item] = (cost or 0) / qty
    rows = SupplierPrice.objects.order_by("-from_qty", "-length_nm")
    for one in rows.iterator(chunk_size=5_000):
        priced = items.get(one.item_id)
        if priced is not None and priced.supplier_id == one.supplier_id:
            found[priced.pk] = one.price_minor / (one.length_nm or priced.issue_per_buy)
    return {pk: cost for pk, cost in found.items() if pk in items and cost > 0}


def of_line(noted: Sequence[SupplierPrice], item: Item, qty: int, bars: int | None) -> int | None:
    """Return what a line costs by a supplier's noted prices of its item, minor units; nothing where they do not say.

    Bars are priced by their length, which is to be the same for all of a line; goods by whole units bought. A price holds
    for whole times its bundle; where none does so, the one whose quantity is reached.
    """
    count, rest = divmod(qty, item.issue_per_buy)
    length = 0
    if bars is not None:
        length, rest = divmod(qty, bars)
        count = bars
    reached = [one for one in noted if one.length_nm == length and one.from_qty <= count]
    if rest or not reached:
        return None
    held = [one for one in reached if count % one.bundle == 0]
    return max(held or reached, key=lambda one: one.from_qty).price_minor * count


def by_length(item_id: int, supplier_id: int | None) -> list[tuple[int, int]]:
    """Return the lengths, nm, in which a steel is sold with the price of one bar, the longest first, ten at the most.

    Of its own supplier, or of all where it has none or that one names no length; the cheapest where two do.
    """
    rows = SupplierPrice.objects.filter(item=item_id, length_nm__gt=0).order_by("-from_qty", "-price_minor")
    own = [one for one in rows if one.supplier_id == supplier_id]
    found: dict[int, int] = {}
    for one in own or rows:
        found[one.length_nm] = one.price_minor
    return sorted(found.items(), reverse=True)[:MOST_LENGTHS]

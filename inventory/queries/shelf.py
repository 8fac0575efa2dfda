"""What stands on the shelf: the items, where their pieces stand, which lots they are of, what a tool is made of."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F, Q, QuerySet, Sum

from inventory.models import Delivery, Holding, Item, Lot, Place, PurchaseOrder, RecipePart, TakeOut

KINDS = (Item.Kind.TOOL, Item.Kind.HEAD, Item.Kind.HANDLE, Item.Kind.CONSUMABLE, Item.Kind.BLANK)


@dataclass(frozen=True, slots=True)
class Standing:
    """So much of an item at one place and step."""

    place: str
    step: int
    sellable: bool
    on_hand: int
    allocated: int


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot of an item and what is left of it inside the shop."""

    lot: Lot
    on_hand: int
    allocated: int


def items(*, find: str = "", every: bool = False) -> QuerySet[Item]:
    """Select the items of the shelf by kind and code; those no longer kept only where `every` is asked."""
    found = Item.objects.filter(kind__in=KINDS)
    if not every:
        found = found.filter(active=True)
    if find:
        found = found.filter(Q(code__icontains=find) | Q(name__icontains=find))
    return found.order_by("kind", "code")


def find_item(code: str) -> Item | None:
    """Return the item of this code."""
    return Item.objects.select_related("grade", "section", "pattern", "supplier").filter(code=code).first()


def named(text: str) -> list[Item]:
    """Return what somebody may have meant: the item of this code, else those kept under exactly this name."""
    by_code = Item.objects.filter(code=text.upper())
    return list(by_code) or list(Item.objects.filter(name__iexact=text, active=True).order_by("code")[:5])


def standing(item: Item) -> list[Standing]:
    """Return where the pieces of an item stand, the sellable places first."""
    held = Holding.objects.filter(item=item, on_hand__gt=0).values(
        "place__name", "place__code", "place__sellable", "step"
    )
    summed = held.annotate(on_hand=Sum("on_hand"), allocated=Sum("allocated"))
    return [
        Standing(row["place__name"], row["step"], row["place__sellable"], row["on_hand"], row["allocated"])
        for row in summed.order_by("-place__sellable", "place__code", "step")
    ]


def to_count() -> list[Holding]:
    """Return everything that can be counted on shelf and in bins, by place and code: the lines of a count sheet."""
    held = Holding.objects.filter(item__kind__in=KINDS, place__kind__in=Place.INSIDE, on_hand__gt=0)
    return list(
        held.select_related("item", "place", "lot__melt").order_by("place__code", "item__code", "lot_id", "step")
    )


def lots(item: Item, *, most: int = 60) -> list[LotRow]:
    """Return the lots of which something is left, the oldest first: the order in which they are taken."""
    held = Holding.objects.filter(item=item, on_hand__gt=0).values("lot")
    left = list(held.annotate(total=Sum("on_hand"), aside=Sum("allocated")).order_by("lot")[:most])
    found = Lot.objects.select_related("melt", "bar", "entry").in_bulk([row["lot"] for row in left])
    return [LotRow(found[row["lot"]], row["total"], row["aside"]) for row in left]


def recipe(item: Item) -> list[RecipePart]:
    """Return what goes into one of a tool."""
    return list(RecipePart.objects.filter(tool=item).select_related("part").order_by("id"))


def used_in(item: Item) -> list[RecipePart]:
    """Return the tools an item goes into."""
    return list(RecipePart.objects.filter(part=item).select_related("tool").order_by("tool__code"))


def out_and_coming_back() -> list[TakeOut]:
    """Return what is out for a photo or a show and not all back."""
    found = TakeOut.objects.filter(why__in=TakeOut.COMING_BACK, back__lt=F("qty"), entry__reversed_by=None)
    return list(found.select_related("item", "entry").order_by("due_back", "id"))


def expected(*, until: dt.date) -> list[PurchaseOrder]:
    """Return the open orders to suppliers that should come by a day, as confirmed or else as wanted."""
    orders = PurchaseOrder.objects.filter(closed_at=None).filter(
        Q(confirmed_on__lte=until) | Q(confirmed_on=None, wanted_on__lte=until)
    )
    found = orders.select_related("supplier").prefetch_related("lines__item").order_by("confirmed_on", "number")
    return sorted(found, key=lambda order: (day_expected(order) or until, order.number))


def day_expected(order: PurchaseOrder) -> dt.date | None:
    """Return the day an order to a supplier should come."""
    return order.confirmed_on or order.wanted_on


def drafts() -> list[Delivery]:
    """Return the deliveries that were begun and not booked, the oldest first."""
    found = Delivery.objects.filter(state=Delivery.State.DRAFT).select_related("supplier", "started_by")
    return list(found.order_by("number"))


def total(rows: Sequence[LotRow]) -> int:
    """Return how much is left of these lots together."""
    return sum(row.on_hand for row in rows)

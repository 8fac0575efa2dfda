"""Lists of items, bars, lots and deliveries for readers that page through them."""

from collections.abc import Iterable

from django.db.models import Prefetch, QuerySet

from inventory.models import (
    Bar,
    Cut,
    CutPiece,
    CutPlan,
    CutPlanBar,
    CutPlanLine,
    Delivery,
    DeliveryLine,
    Holding,
    Item,
    Lot,
    LotParent,
    Melt,
    PurchaseOrder,
    PurchaseOrderLine,
)


def items(*, kind: str | None = None, every: bool = False) -> QuerySet[Item]:
    """Select items, those no longer kept only where every one is asked for."""
    found = Item.objects.select_related("grade", "section", "pattern", "stock")
    found = found if every else found.filter(active=True)
    return found if kind is None else found.filter(kind=kind)


def bars(*, item: str | None = None, grade: str | None = None, heat_number: str | None = None, used_up: bool = False
         ) -> QuerySet[Bar]:  # fmt: skip
    """Select bars of which something is left, or all."""
    found = Bar.objects.select_related("lot__item", "lot__melt__grade", "section", "parent").prefetch_related(
        Prefetch("lot__holdings", _left())
    )
    wanted = {"lot__item__code": item, "lot__melt__grade__code": grade, "lot__melt__heat_number": heat_number}
    found = found.filter(**{name: value for name, value in wanted.items() if value is not None})
    return found if used_up else found.filter(lot__in=_with_something_left())


def lots(*, item: str | None = None, heat_number: str | None = None, used_up: bool = False) -> QuerySet[Lot]:
    """Select lots of which something is left, or all."""
    found = Lot.objects.select_related("item", "melt", "delivery_line__delivery", "bar").prefetch_related(
        Prefetch("holdings", _left()),
        Prefetch("parents", LotParent.objects.select_related("parent__item").order_by("parent")),
    )
    wanted = {"item__code": item, "melt__heat_number": heat_number}
    found = found.filter(**{name: value for name, value in wanted.items() if value is not None})
    return found if used_up else found.filter(pk__in=_with_something_left())


def deliveries(*, state: str | None = None, supplier: str | None = None) -> QuerySet[Delivery]:
    """Select deliveries with their lines."""
    lines = DeliveryLine.objects.select_related("item", "melt", "order_line").order_by("number")
    found = Delivery.objects.select_related("supplier", "order", "entry").prefetch_related(
        Prefetch("lines", lines.prefetch_related(Prefetch("lots", Lot.objects.select_related("bar").order_by("pk"))))
    )
    wanted = {"state": state, "supplier__name__iexact": supplier}
    return found.filter(**{name: value for name, value in wanted.items() if value is not None})


def purchase_orders(*, state: str | None = None, supplier: str | None = None) -> QuerySet[PurchaseOrder]:
    """Select purchase orders with their lines, open or closed, of a supplier where one is named."""
    lines = PurchaseOrderLine.objects.select_related("item__grade", "item__section").order_by("number")
    found = PurchaseOrder.objects.select_related("supplier", "cut_plan").prefetch_related(
        Prefetch("lines", lines), "supplier__freight"
    )
    wanted = {
        "closed_at__isnull": None if state is None else state == "open",
        "supplier__name__iexact": supplier,
    }
    return found.filter(**{name: value for name, value in wanted.items() if value is not None})


def cuts(*, bar: str | None = None) -> QuerySet[Cut]:
    """Select cuts with what they made, of one bar where it is named."""
    lots = Prefetch("entry__lots_made", Lot.objects.select_related("bar").order_by("pk"))
    kinds = Prefetch("kinds", CutPiece.objects.select_related("blank").order_by("pk"))
    found = Cut.objects.select_related("bar", "entry__reversed_by").prefetch_related(lots, kinds)
    return found if bar is None else found.filter(bar__number=bar)


def cut_plans(*, state: str | None = None, steel: str | None = None) -> QuerySet[CutPlan]:
    """Select cut plans, in a state or of a bar item where it is named."""
    wanted = {"state": state, "item__code": steel}
    lines = Prefetch("lines", CutPlanLine.objects.select_related("blank").order_by("number"))
    bars = Prefetch("bars", CutPlanBar.objects.select_related("bar").order_by("pk"))
    found = CutPlan.objects.select_related("item").prefetch_related(lines, bars)
    return found.filter(**{name: value for name, value in wanted.items() if value is not None})


def melts(*, heat_number: str | None = None, grade: str | None = None) -> QuerySet[Melt]:
    """Select melts, of one mill heat number or grade where it is named."""
    wanted = {"heat_number": heat_number, "grade__code": grade}
    found = Melt.objects.select_related("grade")
    return found.filter(**{name: value for name, value in wanted.items() if value is not None})


def lot_codes(ids: Iterable[int]) -> list[str]:
    """Return the codes of lots, in the order they were made."""
    return list(Lot.objects.filter(pk__in=list(ids)).order_by("id").values_list("code", flat=True))


def _left() -> QuerySet[Holding]:
    return Holding.objects.filter(on_hand__gt=0).select_related("place").order_by("place__code", "step")


def _with_something_left() -> QuerySet[Holding, int]:
    return Holding.objects.filter(on_hand__gt=0, place__inside=True).values_list("lot_id", flat=True)

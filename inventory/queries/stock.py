"""What stands where: holdings by item and place, and what is out and coming back."""

import datetime as dt

from django.db.models import F, QuerySet

from inventory.models import Holding, Item, Lot, Place, TakeOut


def standing(item: Item) -> QuerySet[Holding]:
    """Select where an item stands inside the shop, lot by lot."""
    there = Holding.objects.filter(item=item, on_hand__gt=0, place__inside=True)
    return there.select_related("lot__melt", "place").order_by("place__code", "step", "lot_id", "id")


def at_place(place: Place) -> QuerySet[Holding]:
    """Select what stands at a place, item by item."""
    there = Holding.objects.filter(place=place, on_hand__gt=0)
    return there.select_related("lot__melt", "lot__bar", "item").order_by("item__code", "lot_id", "step", "id")


def places_of(item: Item) -> QuerySet[Place]:
    """Select the places where an item stands or could stand."""
    return Place.objects.filter(inside=True, holdings__item=item).distinct().order_by("code")


def out(*, today: dt.date | None = None) -> QuerySet[TakeOut]:
    """Select the take-outs of which pieces are still out; those due by a day where one is named."""
    still = TakeOut.objects.filter(why__in=TakeOut.COMING_BACK, back__lt=F("qty"), entry__reversed_by=None)
    if today is not None:
        still = still.filter(due_back__lte=today)
    return still.select_related("item", "entry__by").order_by(F("due_back").asc(nulls_last=True), "id")


def lot(code: str) -> Lot | None:
    """Return a lot by its code."""
    return Lot.objects.select_related("item", "melt", "bar").filter(code__iexact=code.strip()).first()


def not_to_be_used() -> QuerySet[Holding]:
    """Select what stands under *not to be used*."""
    shut = Holding.objects.filter(place__kind=Place.Kind.NOT_TO_BE_USED, on_hand__gt=0)
    return shut.select_related("lot__melt", "lot__bar", "item").order_by("item__code", "lot_id", "id")

"""Labels to print: of slots, bins and shelves, of one bar, of every bar of a delivery."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.models import Bar, Place
from inventory.queries import rack
from shop.shared import units
from shop.staff import posting
from shop.staff.views import door_words
from shop.staff.views.rack import find_bar, mass_of

MOST_LABELS = 100


@dataclass(frozen=True, slots=True)
class Label:
    """What is printed on one label."""

    huge: str
    address: str
    what: str
    note: str = ""
    hazard: str = ""
    place: str = ""


def labels(request: HttpRequest) -> HttpResponse:
    """Print labels: of one place or all, of one bar, or of every bar of a delivery."""
    here = posting.here_of(request)
    asked = {name: here.GET.get(name, "") for name in ("place", "bar", "delivery")}
    # A control character names nothing, and PostgreSQL refuses to look for one.
    found = _labels(**asked) if all(word.isprintable() for word in asked.values()) else []
    if not found:
        return posting.not_there(here)
    return render(here, "staff/rack/labels.html", {"labels": found[:MOST_LABELS]})


def _labels(place: str, bar: str, delivery: str) -> list[Label]:
    if bar:
        one = find_bar(bar[:10])
        return [_bar_label(one)] if one else []
    if delivery:
        number = units.plain_number(delivery) or 0
        came = Bar.objects.filter(lot__delivery_line__delivery__number=number)
        wanted = came.select_related("lot__item__grade", "lot__melt", "section").order_by("lot_id")
        return [_bar_label(one) for one in wanted[:MOST_LABELS]]
    chosen = rack.slots().filter(code=place[:20]) if place else rack.slots()
    return [_place_label(one) for one in chosen[:MOST_LABELS]]


def _bar_label(bar: Bar) -> Label:
    mass = mass_of(bar, bar.length_nm)
    heavy = "over 51 lb, not alone; over about 100 lb hoist or rollers" if mass > door_words.ALONE_MG else ""
    length = units.both(bar.length_nm) if bar.measured else "not measured: do not cut"
    note = f"{length}, mill heat {rack.heat_of(bar.lot)}"
    return Label(bar.number, reverse("staff:rack_bar", args=[bar.number]), bar.lot.item.name, note, heavy)


def _place_label(place: Place) -> Label:
    return Label(
        place.code,
        reverse("staff:rack_slot", args=[place.code]),
        place.name,
        "What is here: open the code.",
        place=place.kind,
    )

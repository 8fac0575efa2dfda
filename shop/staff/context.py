"""What every sheet shows around its lines: the shop, the time on its wall, the rooms, and who is here."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from shop.shared import clock
from shop.shared.models import Shop
from shop.staff import rooms


def sheet(request: HttpRequest) -> dict[str, object]:
    """Return the head and foot of a sheet; one query, for the shop's row.

    The shop's zone becomes the zone of the page, so that a moment printed without naming one is the shop's.
    """
    shop = Shop.objects.filter(pk=1).first() or Shop(name="Bickern")
    zone = ZoneInfo(shop.zone)
    timezone.activate(zone)
    now: dt.datetime = clock.now().astimezone(zone)
    match = request.resolver_match
    return {
        "shop": shop,
        "now": now,
        "today": now.date(),
        "room": rooms.room_of(match.url_name or "") if match else "",
        "who_is_here": getattr(request, "person", None),
        "tablet": getattr(request, "tablet", None),
        "base_address": settings.BASE_ADDRESS,
    }

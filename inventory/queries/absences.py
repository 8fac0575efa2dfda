"""Who is out and what is down today and ahead, for the pages and the API that note it."""

import datetime as dt

from django.db.models import Q, QuerySet

from inventory.models import Away, Machine, MachineDown
from shop.access.models import Person


def away(today: dt.date) -> QuerySet[Away]:
    """Select the spells of people that reach to today or lie ahead, the first to begin first."""
    return Away.objects.filter(_not_over(today)).select_related("person", "by").order_by("first", "person__name", "id")


def down(today: dt.date) -> QuerySet[MachineDown]:
    """Select the spells of machines that reach to today or lie ahead, the first to begin first."""
    found = MachineDown.objects.filter(_not_over(today)).select_related("machine", "by")
    return found.order_by("first", "machine__code", "id")


def people() -> list[Person]:
    """Return who comes in, by name."""
    return list(Person.objects.filter(is_active=True).order_by("name", "id"))


def machines() -> list[Machine]:
    """Return the machines in use, by code."""
    return list(Machine.objects.filter(active=True).order_by("code"))


def _not_over(today: dt.date) -> Q:
    return Q(last=None) | Q(last__gte=today)

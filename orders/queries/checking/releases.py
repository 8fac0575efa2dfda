"""Releases: each stands in an order of the shop's own with one line, of which nothing is ever sent."""

from collections.abc import Iterator

from django.db.models import Count, Sum

from orders.models import OWN_SOURCE, Order, Release


def differences() -> Iterator[str]:
    """Yield what is wrong with releases and the orders they stand in."""
    yield from _orders()
    yield from _lines()
    yield from _ended()
    yield from _taken()


def _orders() -> Iterator[str]:
    for pk, number in (
        Release.objects.exclude(order__source=OWN_SOURCE).order_by("pk").values_list("pk", "order__number")
    ):
        yield f"Release {pk} stands in order {number}, which is not the shop's own."
    orders = Order.objects.filter(source=OWN_SOURCE, release=None).order_by("pk")
    for number in orders.values_list("number", flat=True):
        yield f"Order {number} is the shop's own and no release stands in it."


def _lines() -> Iterator[str]:
    found = Release.objects.annotate(
        lines=Count("order__lines"), items=Count("order__lines__item"), sent=Sum("order__lines__shipped")
    )
    for pk, number, lines, items, sent in found.order_by("pk").values_list(
        "pk", "order__number", "lines", "items", "sent"
    ):
        if (lines, items) != (1, 1):
            yield f"Release {pk} keeps one item in one line; its order {number} has {lines} lines with {items} items."
        if sent:
            yield f"Release {pk}: {sent} of its own order {number} were sent; they go with the orders out of it."


def _ended() -> Iterator[str]:
    still = Release.objects.filter(ended_at__isnull=False, order__closed_at=None).order_by("pk")
    for pk, number in still.values_list("pk", "order__number"):
        yield f"Release {pk} is ended and its order {number} still keeps pieces."


def _taken() -> Iterator[str]:
    """Orders out of a release name one that is there."""
    there = {f"{OWN_SOURCE} {pk}" for pk in Release.objects.values_list("pk", flat=True)}
    orders = Order.objects.filter(source__startswith=f"{OWN_SOURCE} ").order_by("pk")
    for number, source in orders.values_list("number", "source"):
        if source not in there:
            yield f"Order {number} was taken out of {source}, which is not in the book."

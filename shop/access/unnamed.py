"""Takes the names of the shop's people out of what holds an order up, for those who are not told who does what."""

from collections.abc import Collection
from typing import Final

from shop.access.models import Person

HANDS: Final = "a pair of hands"
JOIN: Final = " and "  # what is waited for is kept as one text


def names() -> frozenset[str]:
    """Return the names of all who are or were of the shop."""
    return frozenset(Person.objects.values_list("name", flat=True))


def unnamed(text: str, people: Collection[str]) -> str:
    """Return what is waited for with people as hands: "hafting bench and Ida" is "hafting bench and a pair of hands"."""
    parts = [HANDS if part in people else part for part in text.split(JOIN)]
    return JOIN.join(dict.fromkeys(parts))

"""What is to be made for the shelf and is not begun, behind all that is owed."""

from typing import Final

from orders.models import ForShelf

MOST: Final = 1_000  # pieces of an item that the calculator takes at once


def open_wishes() -> list[ForShelf]:
    """Return what was put into the week and neither begun nor dropped, by the code of its item."""
    return list(ForShelf.objects.filter(run=None, dropped_at=None).select_related("item", "by").order_by("item__code"))

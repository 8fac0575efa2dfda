"""Purchase orders whose day has passed, on the Day sheet: who was promised what, asked when, and asked today by one touch."""

import datetime as dt
from collections.abc import Iterator

from inventory.queries import lasting
from shop.flows import purchase_letters
from shop.flows.night import words
from shop.staff import wording
from shop.staff.views.day_lines import Line


def lines(today: dt.date) -> Iterator[Line]:
    """Yield a line for each order that is late."""
    for order, day in lasting.overdue_orders(today=today):
        late = (today - day).days
        asked = purchase_letters.asked(order, today)
        bold = f"{order.supplier.name}, order {order.number}."
        said = f"{purchase_letters.meant(order, day)}. {asked or 'Nobody has asked where it is'}."
        unit = f"{words.plural('day', late)} late"
        if order.asked_on == today:
            address = wording.address("staff:door_order", order.number)
            yield Line(wording.figures(late), unit, bold, said, address, "See the order")
        else:
            address = wording.address("staff:door_order_asked", order.number)
            press = (("version", order.version), ("back", "day"))
            yield Line(wording.figures(late), unit, bold, said, address, "Asked today", press=press)

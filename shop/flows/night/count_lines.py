"""What is due to be counted today, a handful, for the Day sheet; the e-mail lists only what is wrong or urgent."""

import datetime as dt

from inventory.models import Item
from shop.flows import count_sheets
from shop.flows.night import words
from shop.flows.night.body import Line, Link, Part, path
from shop.shared import shop_row

SECONDS_EACH = 90  # to walk there, count and write; no source
NAMED = 4


def due(*, today: dt.date) -> list[Part]:
    """Return the part "Count" with what is due to be counted today; nothing on a day the shop is shut."""
    codes = count_sheets.due_codes(shop_row.the_shop(), today)
    if not codes:
        return []
    names = dict(Item.objects.filter(code__in=codes).values_list("code", "name"))
    shown = ", ".join(names.get(code, code) for code in codes[:NAMED])
    more = f" and {len(codes) - NAMED} more" if len(codes) > NAMED else ""
    minutes = max(1, round(len(codes) * SECONDS_EACH / 60))
    said = f"{words.count(len(codes), 'thing')} to count"
    line = Line(
        str(len(codes)), words.plural("thing", len(codes)), "to count:", f"{shown}{more}; about {words.count(minutes, 'minute')}.",
        Link(path("staff:counts", otherwise="staff:shelf"), "Count them"), {"items": list(codes)},
    )  # fmt: skip
    return [Part("count", "Count", (line,), said, said)]

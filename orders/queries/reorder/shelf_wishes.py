"""What is to be made for the shelf and not begun, and on which days its parts are wanted: as it is pinned, else as it takes."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from orders.calc.dates.sizing import SHELF
from orders.models import ForShelf, WeekPin
from orders.queries.reorder.basis import MAKING_DAYS

BEHIND: Final = 7  # days before which nothing for the shelf is begun that is not pinned: orders go first. No source


@dataclass(frozen=True, slots=True)
class Wish:
    """So many pieces of an item; the day its steel is sawn, and the day what it is put together from is wanted."""

    pieces: int
    begun: dt.date
    ready: dt.date


def read(*, today: dt.date, takes: Mapping[int, float]) -> dict[int, Wish]:
    """Return what is wished by item.

    The week is planned anew whenever it is read, which is too slow for a page about stock. So what is pinned is wanted from
    the first pin on, and what is not is begun a week from now at the earliest; nothing is put together before the item's
    usual days of making are over.
    """
    rows = list(ForShelf.objects.filter(run=None, dropped_at=None).values_list("item_id", "item__code", "pieces"))
    pins = _pins() if rows else {}
    found = {}
    for item, code, pieces in rows:
        ready = today + dt.timedelta(days=round(takes.get(item, MAKING_DAYS)))
        pinned = pins.get(code)
        if pinned:
            found[item] = Wish(pieces, max(today, pinned[0]), max(ready, pinned[-1]))
        else:
            found[item] = Wish(pieces, begun(ready, today), ready)
    return found


def begun(ready: dt.date, today: dt.date) -> dt.date:
    """Return the day something is begun that is to be ready on a day."""
    return max(today + dt.timedelta(days=BEHIND), ready - dt.timedelta(days=MAKING_DAYS))


def _pins() -> Mapping[str, list[dt.date]]:
    """Return the days pinned of what is planned for the shelf, by the item's code, the first first."""
    found: dict[str, list[dt.date]] = defaultdict(list)
    for run, day in WeekPin.objects.filter(run_code__contains=SHELF).order_by("day").values_list("run_code", "day"):
        found[run.rpartition(SHELF)[0]].append(day)
    return found

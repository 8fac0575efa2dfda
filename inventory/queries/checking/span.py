"""Which part of the book a check reads: all of it, or what was booked since a month was closed."""

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from inventory.models import BookClose, Entry, Movement

CHUNK = 5000


@dataclass(frozen=True, slots=True)
class Span:
    """Movements after this one, entries from this one on, counted from the close of a month where one is named."""

    after: int = 0
    first_entry: int = 0
    month: dt.date | None = None
    booked_from: dt.datetime | None = None

    @property
    def whole(self) -> bool:
        """Return whether everything is read."""
        return self.month is None


WHOLE = Span()


def since_close() -> Span:
    """Return the span since the last month that was closed; the whole book where none was."""
    month = BookClose.objects.order_by("-month").values_list("month", flat=True).first()
    if month is None:
        return WHOLE
    after = last_movement(month)
    entries = Movement.objects.filter(pk__gt=after).order_by("entry_id").values_list("entry_id", flat=True)
    first = entries.first()
    if first is None:
        first = (Entry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0) + 1
    ended = Movement.objects.filter(pk=after).values_list("entry__booked_at", flat=True).first()
    return Span(after, first, month, ended)


def last_movement(month: dt.date) -> int:
    """Return the movement up to which a month was closed: what most rows of the close say."""
    rows = BookClose.objects.filter(month=month).values_list("last_movement", flat=True)
    return Counter(rows.iterator(CHUNK)).most_common(1)[0][0]

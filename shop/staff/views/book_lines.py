"""Entries of the book as a bare ruled table: happened, what, who, line."""

from collections.abc import Sequence

from inventory.queries.movements import Written
from orders.queries import book
from shop.shared import shop_row
from shop.staff import wording
from shop.staff.ruled import Column, Ruled
from shop.staff.templatetags.shop_tags import fractions
from shop.staff.views.counter_history import link

_LATE_SECONDS = 120  # typed so soon after it happened that the two need not both be said


def table(entries: Sequence[Written], caption: str) -> Ruled:
    """Return entries as lines, each with its number as the way to its page."""
    zone = shop_row.the_shop().zone
    ids = [line.entry.pk for line in entries]
    shipments, returns = book.shipments_by_entry(ids), book.returns_by_entry(ids)
    rows = []
    for line in entries:
        entry = line.entry
        said = wording.entry_line(line, shipments.get(entry.pk), returns.get(entry.pk))
        if line.undone_by:
            said += f" Undone by line {wording.figures(line.undone_by)}."
        if typed_late(line):
            said += f" Typed {wording.at_moment(entry.booked_at, zone)}."
        who = entry.by.name if entry.by else entry.device
        number = link("staff:book_entry", wording.figures(entry.pk), entry.pk)
        rows.append([wording.at_moment(entry.happened_at, zone), fractions(said), who, number])
    columns = [Column("happened"), Column("what"), Column("who"), Column("line", figures=True)]
    return Ruled(caption, columns, rows, bare=True)


def typed_late(line: Written) -> bool:
    """Return whether an entry was typed so long after it happened that both times are worth saying."""
    return (line.entry.booked_at - line.entry.happened_at).total_seconds() > _LATE_SECONDS

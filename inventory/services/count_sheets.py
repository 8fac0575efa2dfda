"""Count sheets: opened for things to look at, each line written when it is counted, closed when all are or enough are."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import F, Q

from inventory.models import Entry, StockCount, StockCountLine
from inventory.queries.count_sheets import ToCount
from inventory.services.ledger import Stamp
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid, Refusal

MOST_LINES = 300
BEFORE = dt.timedelta(days=1)  # that a count may lie before its sheet. No source


class CountClosed(Refusal):
    """Nothing more is counted on the sheet."""

    code = "count_closed"


class CountAgain(Refusal):
    """What was counted does not go together with what was booked since."""

    code = "count_again"


class CountedLater(Refusal):
    """The same thing was counted at a later moment, and that count holds."""

    code = "counted_later"


def open_sheet(name: str, things: Sequence[ToCount], *, stamp: Stamp) -> StockCount:
    """Open a sheet."""
    transactions.assert_open()
    if not things:
        raise Invalid.field("what", "What to count: nothing of it stands on rack, bin or shelf; choose something else.")
    if len(things) > MOST_LINES:
        raise Invalid.field("what", f"What to count: {len(things)} lines are too many; a place at a time would work.")
    made = StockCount.objects.create(
        number=series.take("count sheet"), name=name[:80], opened_at=stamp.at, opened_by=stamp.by.person
    )
    StockCountLine.objects.bulk_create(
        StockCountLine(count=made, number=number, item=one.item, place=one.place, lot=one.lot)
        for number, one in enumerate(things, 1)
    )
    audit.write(
        at=stamp.at, by=stamp.by.label, action="count sheet opened", subject=f"count sheet {made.number}",
        after={"name": made.name, "lines": len(things)},
    )  # fmt: skip
    return made


def locked(line: StockCountLine, *, when: dt.datetime) -> StockCountLine:
    """Return a line as it stands now, for nobody else to count meanwhile.

    Refused where its sheet was closed before the count: one that was kept on a tablet meanwhile is still taken. Somebody
    may have counted on a scrap of paper that morning; by a clock that stands further off all that came since would be
    counted twice.
    """
    transactions.assert_open()
    if when < line.count.opened_at - BEFORE:
        raise Invalid.field(
            "happened_at",
            f"Counted at: that is more than a day before sheet {line.count.number} was opened; a later moment would work.",
        )
    open_then = Q(closed_at=None) | Q(closed_at__gt=when)
    rows = StockCount.objects.filter(open_then, pk=line.count_id).update(version=F("version") + 1)
    if not rows:
        raise CountClosed(f"Count sheet {line.count.number} is closed; open another one.")
    return StockCountLine.objects.select_related("count", "item", "place", "lot__bar").get(pk=line.pk)


def note_first(line: StockCountLine, typed: str, *, stamp: Stamp) -> None:
    """Keep a first count that was off, so that the next one is known to be the second; the book stays as it is."""
    StockCountLine.objects.filter(pk=line.pk).update(typed=typed[:60], counted_by=stamp.by.label[:80])


def moved_by(line: StockCountLine) -> int:
    """Return by how much a line has moved the book already, however often it was counted; 0 where that was undone."""
    undone = line.entry_id is not None and Entry.objects.filter(reverses=line.entry_id).exists()
    if line.counted is None or line.expected is None or undone:
        return 0
    return line.counted - line.expected


def write(
    line: StockCountLine, counted: int, *, expected: int, tolerance: int, typed: str, stamp: Stamp, reason: str = "",
    entry: Entry | None = None, by: str = "",
) -> StockCountLine:  # fmt: skip
    """Write a line down; counted again, the last count holds.

    `expected` is what the book said at that time as it stands now. What the line's own counts put right is no figure of the
    book, so it is taken off: a line that was ten off stays so, however often it is counted.
    """
    before = moved_by(line)
    StockCountLine.objects.filter(pk=line.pk).update(
        counted=counted, expected=max(0, expected - before), tolerance=tolerance, typed=typed[:60], counted_at=stamp.when,
        counted_by=(by or stamp.by.label)[:80], reason=reason.strip()[:300], entry=entry or (line.entry if before else None),
    )  # fmt: skip
    line.refresh_from_db()
    return line


def close(count: StockCount, *, stamp: Stamp) -> StockCount:
    """Close a sheet; what was not counted stays so."""
    transactions.assert_open()
    rows = StockCount.objects.filter(pk=count.pk, closed_at=None).update(closed_at=stamp.at, version=F("version") + 1)
    if not rows:
        raise CountClosed(f"Count sheet {count.number} is closed already.")
    left = count.lines.filter(counted=None).count()
    audit.write(
        at=stamp.at, by=stamp.by.label, action="count sheet closed", subject=f"count sheet {count.number}",
        after={"not_counted": left},
    )  # fmt: skip
    count.refresh_from_db()
    return count

"""Count sheets: opened for things to look at, each line written when it is counted, closed when all are or enough are."""

from collections.abc import Sequence

from django.db.models import F

from inventory.models import Entry, StockCount, StockCountLine
from inventory.queries.count_sheets import ToCount
from inventory.services.ledger import Stamp
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid, Refusal

MOST_LINES = 300


class CountClosed(Refusal):
    """Nothing more is counted on the sheet."""

    code = "count_closed"


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


def locked(line: StockCountLine) -> StockCountLine:
    """Return a line as it stands now, for nobody else to count meanwhile; refused where its sheet is closed."""
    transactions.assert_open()
    rows = StockCount.objects.filter(pk=line.count_id, closed_at=None).update(version=F("version") + 1)
    if not rows:
        raise CountClosed(f"Count sheet {line.count.number} is closed; open another one.")
    return StockCountLine.objects.select_related("count", "item", "place", "lot__bar").get(pk=line.pk)


def note_first(line: StockCountLine, typed: str, *, stamp: Stamp) -> None:
    """Keep a first count that was off, so that the next one is known to be the second; the book stays as it is."""
    StockCountLine.objects.filter(pk=line.pk).update(typed=typed[:60], counted_by=stamp.by.label[:80])


def write(
    line: StockCountLine, counted: int, *, expected: int, tolerance: int, typed: str, stamp: Stamp, reason: str = "",
    entry: Entry | None = None,
) -> StockCountLine:  # fmt: skip
    """Write a line down with what the book said at its time; counted again, the last count holds."""
    StockCountLine.objects.filter(pk=line.pk).update(
        counted=counted, expected=expected, tolerance=tolerance, typed=typed[:60], counted_at=stamp.when,
        counted_by=stamp.by.label[:80], reason=reason.strip()[:300], entry=entry,
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

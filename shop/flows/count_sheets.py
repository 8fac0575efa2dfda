"""Counting by sheet: blind, at each line's own time, with a second look before a difference that is more than usual.

The book's figure is never shown before a line is counted. People go on working: what the book said is read for the moment of
the count, and the difference is booked now. Orders give way where promised pieces are missing; what turns up serves lines.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.calc.counts import tolerance
from inventory.models import Entry, Item, StockCount, StockCountLine
from inventory.queries import count_sheets as queries
from inventory.services import correcting, count_sheets, counting
from inventory.services.count_sheets import CountAgain, CountedLater
from inventory.services.ledger import Locks, Stamp
from orders.models import Learned, OrderLine
from orders.services import reserving
from shop.access.actor import Actor
from shop.flows import giving_way
from shop.flows.night import words
from shop.shared import clock, shop_row, shop_settings, transactions, units
from shop.shared.errors import Invalid
from shop.shared.models import Shop

DUE = "what is due today"
SETTLED_OVER = dt.timedelta(days=14)  # what is booked later still is for a new count to find. No source
BUY_WHOLE = (Item.Unit.MG, Item.Unit.UL)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a line: to be counted again, or written down with the entry where the book was off."""

    line: StockCountLine
    again: bool = False
    gave_way: Sequence[OrderLine] = ()

    @property
    def difference(self) -> int:
        """Return what was found more than the book said; negative where some was missing."""
        return (self.line.counted or 0) - (self.line.expected or 0)


def classes() -> dict[int, str]:
    """Return how often each item is counted: as somebody said, else by its yearly value as the night learned it."""
    learned = {row[0]: row[1].get("counted", "sometimes") for row in Learned.objects.values_list("item_id", "basis")}
    said = Item.objects.exclude(counted="").values_list("pk", "counted")
    return {**learned, **dict(said)}


def why(item: Item) -> str:
    """Say how often an item is counted and why."""
    if item.counted:
        return f"{item.counted}, as written on the item"
    learned = Learned.objects.filter(item=item).values_list("basis", flat=True).first()
    if learned and learned.get("yearly") and "counted" in learned:
        return f"{learned['counted']}, by what it turns over in a year"
    return "sometimes, as no yearly value is known"


def due_codes(shop: Shop, today: dt.date) -> tuple[str, ...]:
    """Return the codes of what is due to be counted today; none on a day the shop is shut."""
    open_days = shop_settings.days_of(shop.open_days)
    if today.weekday() not in open_days:
        return ()
    return queries.due(classes(), today=today, zone=shop.zone, open_days=len(open_days)).codes


def open_due(shop: Shop, today: dt.date, *, stamp: Stamp) -> StockCount:
    """Open the sheet of what is due today; one that is open and not counted to its end goes on."""
    there = StockCount.objects.filter(name=DUE, closed_at=None, lines__counted=None).order_by("number").first()
    if there is not None:
        return there
    return count_sheets.open_sheet(DUE, queries.of_items(due_codes(shop, today)), stamp=stamp)


def count_line(
    line: StockCountLine,
    found: int,
    *,
    typed: str,
    stamp: Stamp,
    counted: Mapping[int, str] | None = None,
    reason: str = "",
) -> Outcome:
    """Write down what was found on a line.

    A first count that is further off than allowed asks for a second one, or for a reason, and shows nothing. A second
    count holds, whatever it is.
    """
    transactions.assert_open()
    if line.lot_id is not None:
        raise Invalid.field("found", "This is a bar: say whether it is here.")
    counting.check_count(line.item, line.place, found)
    locks = giving_way.lock({line.item_id}, at=stamp.at)
    line = _last_look(line, stamp)
    now, expected = queries.there(line.item, line.place, None, at=stamp.when)
    allowed = tolerance.allowed(
        max(0, expected), (counted or classes()).get(line.item_id, "sometimes"), step(line.item)
    )
    difference = found - expected
    first = line.counted is None and not line.typed
    if abs(difference) > allowed and first and not reason.strip():
        count_sheets.note_first(line, typed, stamp=stamp)
        line.refresh_from_db()
        return Outcome(line, again=True)
    entry, gave = _book(line, now + difference, now, locks, stamp)
    written = count_sheets.write(
        line, found, expected=expected, tolerance=allowed, typed=typed, stamp=stamp, reason=reason, entry=entry
    )
    reserving.serve_waiting(locks)
    return Outcome(written, gave_way=gave)


def _last_look(line: StockCountLine, stamp: Stamp) -> StockCountLine:
    """Return the line under its lock; refused where a later count holds: by it the book was put right already."""
    line = count_sheets.locked(line, when=stamp.when)
    later = queries.counted_later(line, at=stamp.when)
    if later is not None:
        zone = shop_row.the_shop().zone
        when = f"{words.day(clock.local_date(later, zone))} {words.hour(later, zone)}"
        raise CountedLater(f"{line.item.name} was counted later too, {when}; what was counted last holds.")
    return line


def _book(
    line: StockCountLine, target: int, now: int, locks: Locks, stamp: Stamp
) -> tuple[Entry | None, Sequence[OrderLine]]:
    if target == now:
        return None, ()
    if target < 0:
        raise CountAgain(f"More of {line.item.name} was taken since than that leaves; count what is there now.")
    holdings = counting.standing(line.item, line.place)
    gave = giving_way.make_room(locks, holdings, now - target) if target < now else []
    return counting.count(line.item, line.place, target, locks=locks, stamp=stamp).entry, gave


def step(item: Item) -> int:
    """Return what the hand can tell of an item: a quarter of what it is bought in, where it is poured or weighed."""
    if item.unit in BUY_WHOLE and item.buy_unit:
        return tolerance.quarter(item.issue_per_buy)
    return tolerance.STEP[item.unit]


def tick_bar(line: StockCountLine, *, here: bool, stamp: Stamp) -> Outcome:
    """Write down that a bar is here, or, asked for the second time, that it is not: then it is lost."""
    transactions.assert_open()
    if line.lot is None:
        raise Invalid.field("here", "This is no bar; write how many are there.")
    locks = giving_way.lock({line.item_id}, at=stamp.at)
    line = _last_look(line, stamp)
    assert line.lot is not None
    now, expected = queries.there(line.item, line.place, line.lot, at=stamp.when)
    if here and expected <= 0:
        raise Invalid.field(
            "here", f"Bar {line.lot.bar.number} does not stand here by the book; open the bar and move it here first."
        )
    if not here and line.counted is None and not line.typed and expected:
        count_sheets.note_first(line, "not here", stamp=stamp)
        line.refresh_from_db()
        return Outcome(line, again=True)
    if not here and expected and not now:
        raise CountAgain(f"Bar {line.lot.bar.number} was sawn or moved since; open the bar and see where it is.")
    entry, gave = None, []
    if not here and now:
        holding = counting.holding_of(line.lot, line.place)
        gave = giving_way.make_room(locks, [holding], now)
        entry = counting.write_off(
            line.lot, now, place=line.place, cause=stamp.reason.strip() or "not found when counted", lost=True,
            locks=locks, stamp=stamp,
        )  # fmt: skip
    written = count_sheets.write(
        line, max(expected, 0) if here else 0, expected=expected, tolerance=0, typed="here" if here else "not here",
        stamp=stamp, reason=stamp.reason, entry=entry,
    )  # fmt: skip
    reserving.serve_waiting(locks)
    return Outcome(written, gave_way=gave)


def tape_bar(line: StockCountLine, length: str, *, stamp: Stamp) -> Outcome:
    """Write down that a bar is here and how long it is by the tape; more than a sixteenth off it is taped twice."""
    transactions.assert_open()
    if line.lot is None:
        raise Invalid.field("length", "Length: this is no bar; write how many are there.")
    taped = units.parse_length(length, field="length")
    locks = giving_way.lock({line.item_id}, at=stamp.at)
    line = _last_look(line, stamp)
    assert line.lot is not None
    now, expected = queries.there(line.item, line.place, line.lot, at=stamp.when)
    if not now or expected <= 0:
        raise CountAgain(
            f"Bar {line.lot.bar.number} does not stand here by the book; open the bar and see where it is."
        )
    allowed = tolerance.STEP[line.item.unit]
    off = taped.nm - expected
    if abs(off) > allowed and line.counted is None and line.typed != taped.typed and not stamp.reason.strip():
        count_sheets.note_first(line, taped.typed, stamp=stamp)
        line.refresh_from_db()
        return Outcome(line, again=True)
    bar, entry = line.lot.bar, None
    if off:
        bar.refresh_from_db()
        right = Decimal(bar.length_nm + off).scaleb(-6)
        entry = correcting.bar_length(bar, f"{right.normalize():f} mm", locks=locks, stamp=stamp)
    written = count_sheets.write(
        line, taped.nm, expected=expected, tolerance=allowed, typed=taped.typed, stamp=stamp, reason=stamp.reason, entry=entry
    )  # fmt: skip
    reserving.serve_waiting(locks)
    return Outcome(written)


def close(count: StockCount, *, stamp: Stamp) -> StockCount:
    """Close a sheet, after what was booked late is taken into the lines it is about."""
    settle(at=stamp.at, by=stamp.by)
    return count_sheets.close(count, stamp=stamp)


def settle(*, at: dt.datetime, by: Actor) -> list[Outcome]:
    """Take into counted lines what happened before they were counted and was booked only after; return those changed.

    A count says what stood there at its moment. Whatever turns up later about the time before was in that figure already,
    so only the difference that was booked with the count changes.
    """
    transactions.assert_open()
    changed = []
    for line in queries.last_word(since=at - SETTLED_OVER):
        assert line.counted_at is not None
        if queries.there(line.item, line.place, None, at=line.counted_at)[1] == line.counted:
            continue
        stamp = Stamp(at=at, by=by, happened_at=line.counted_at, reason="booked late, and counted already")
        locks = giving_way.lock({line.item_id}, at=at)
        line.refresh_from_db()
        now, expected = queries.there(line.item, line.place, None, at=stamp.when)
        found = line.counted
        if line.counted_at != stamp.when or found is None or now + found - expected < 0:
            continue
        if queries.counted_later(line, at=stamp.when) is not None:
            continue
        entry, gave = _book(line, now + found - expected, now, locks, stamp)
        written = count_sheets.write(
            line, found, expected=expected, tolerance=line.tolerance or 0, typed=line.typed, stamp=stamp,
            reason=line.reason, entry=entry, by=line.counted_by,
        )  # fmt: skip
        reserving.serve_waiting(locks)
        changed.append(Outcome(written, gave_way=gave))
    return changed

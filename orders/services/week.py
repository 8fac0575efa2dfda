"""Pins of the week sheet: a line moved by hand, a week pinned as it is proposed, pins taken out; dates follow them."""

import datetime as dt
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from inventory.queries import shelf
from orders.calc.dates import pinning
from orders.calc.dates.pinning import Key, Put
from orders.calc.dates.sizing import SHELF
from orders.models import WeekPin
from orders.queries.week import Proposed
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

if TYPE_CHECKING:
    from inventory.models import Item

FURTHEST = 366  # days ahead a line can be pinned


def move_and_pin(
    found: Proposed, keys: Sequence[Key], day: dt.date, *, after: Key | None, at: dt.datetime, by: Actor
) -> None:
    """Put a line of the sheet on a day, behind another of its place or before all of them, and pin it there.

    Args:
        found: the week as it was proposed, worked out before the transaction.
        keys: run and step of the line; several for an oven load.
        day: on which it stands; it begins no sooner.
        after: run and step of the line it goes behind on that day; what stands before that one there is pinned with it.
            Nothing: it goes before all that is pinned for the day.
        at: now.
        by: who moves it.
    """
    transactions.assert_open()
    puts, before = checked(found, keys, day, after)
    was = _locked()
    now = pinning.moved(_alive(found, was), puts, before)
    _write(was, now, at=at, by=by)
    audit.write(
        at=at, by=by.label, action="week line pinned", subject=_subject(*keys[0]),
        after={"day": day, "order": [f"{one.run} {one.step}" for one in now if one.day == day]},
    )  # fmt: skip


def checked(
    found: Proposed, keys: Sequence[Key], day: dt.date, after: Key | None
) -> tuple[tuple[Put, ...], tuple[Put, ...]]:
    """Return the line as it is to be pinned and what stands before it; refuse what the sheet does not know."""
    for run, step in keys:
        if (run, step) not in found.ahead:
            raise Invalid.field("run", f"Run: {run[:40]} has no step {step} before it; choose a line of the sheet.")
    hours, first = found.stated.shop.hours, found.stated.first_day
    if not first <= day <= first + dt.timedelta(days=FURTHEST):
        raise Invalid.field(
            "day", f"Day: {day} lies outside the sheet; a day from {first} on, within a year, would work."
        )
    if day.weekday() not in hours.weekdays or day in hours.closed:
        raise Invalid.field("day", f"Day: the shop is shut on {day}; {_next_open(found, day)} would work.")
    puts = tuple(Put(run, step, day) for run, step in keys)
    if after is None or after in keys:
        return puts, ()
    line = found.find(*keys[0])
    before = pinning.before_it(found.operations, keys, line.place, day, after) if line else ()
    if not before:
        said = f"{after[0][:40]} step {after[1]}"
        raise Invalid.field(
            "after", f"In order: {said} does not begin there on {day}; choose a line of that day, or first."
        )
    return puts, before


def unpin(run: str, step: int, *, at: dt.datetime, by: Actor) -> None:
    """Take one pin out."""
    transactions.assert_open()
    gone, _ = WeekPin.objects.filter(run_code=run, step=step).delete()
    if not gone:
        raise NotFound(f"Step {step} of {run[:40]} is not pinned; read the week for what is.")
    audit.write(at=at, by=by.label, action="week line unpinned", subject=_subject(run, step))


def pin_all(found: Proposed, first: dt.date, last: dt.date, *, at: dt.datetime, by: Actor) -> int:
    """Pin all that begins in a span as it is proposed; returns how many lines are newly pinned or on another day."""
    transactions.assert_open()
    was = _locked()
    alive = _alive(found, was)
    now = pinning.all_of(alive, found.operations, first, last)
    changed = len(set(now) - set(alive))
    if not any(first <= one.date <= last for one in found.operations):
        raise Invalid.field("week", f"Week: nothing begins from {first} to {last}; a week with lines would work.")
    _write(was, now, at=at, by=by)
    audit.write(
        at=at, by=by.label, action="week pinned", subject=f"week from {first}", after={"last": last, "lines": len(now)}
    )
    return changed


def unpin_all(first: dt.date | None, last: dt.date, *, at: dt.datetime, by: Actor) -> int:
    """Take out the pins of a span, or of all days up to its last; returns how many."""
    transactions.assert_open()
    gone = WeekPin.objects.filter(day__lte=last, **({"day__gte": first} if first else {}))
    number = gone.count()
    if not number:
        span = f"from {first} to {last}" if first else f"up to {last}"
        raise Invalid.field("week", f"Week: nothing is pinned {span}; a week with pins would work.")
    gone.delete()
    audit.write(
        at=at, by=by.label, action="week unpinned", subject=f"week to {last}", after={"first": first, "lines": number}
    )
    return number


def tidy(ahead: Collection[tuple[str, int]], *, at: dt.datetime, by: Actor) -> int:
    """Drop the pins of steps that are done and of runs that are gone.

    Args:
        ahead: every step that a run has before it, as the week was proposed.
        at: when that was; pins put on since stay.
        by: who tidies.
    """
    transactions.assert_open()
    old = [one for one in _locked() if one.pinned_at < at and (one.run_code, one.step) not in ahead]
    if old:
        WeekPin.objects.filter(pk__in=[one.pk for one in old]).delete()
        lines = [f"{one.run_code} {one.step}" for one in old]
        audit.write(at=at, by=by.label, action="week tidied", subject="week", before={"lines": lines[:100]})
    return len(old)


def started(run: str, head: "Item", *, at: dt.datetime, by: Actor) -> None:
    """Give the pins of the next run that was to be started to the run that was; those of the ones after move up.

    Args:
        run: code of the run that was started.
        head: it makes; it may have been planned as a tool this goes into.
        at: now.
        by: who started it.
    """
    transactions.assert_open()
    if not WeekPin.objects.filter(run_code__contains="+").exists():
        return
    items = {head.code, *(part.tool.code for part in shelf.used_in(head))}
    waiting = [one for one in _locked() if one.run_code.rpartition("+")[0] in items and _number(one.run_code)]
    if not waiting:
        return
    first = min(waiting, key=lambda one: (_number(one.run_code), one.place))
    item = first.run_code.rpartition("+")[0]
    for one in sorted(waiting, key=lambda one: _number(one.run_code)):
        if one.run_code.rpartition("+")[0] == item:
            number = _number(one.run_code)
            one.run_code = run if number == 1 else f"{item}+{number - 1}"
            one.save(update_fields=["run_code"])
    audit.write(at=at, by=by.label, action="week line named", subject=f"run {run}", before={"was": f"{item}+1"})


def for_shelf_of(item: str) -> str:
    """Return how the names of an item's runs begin that are planned for the shelf."""
    return f"{item}{SHELF}"


def started_for_shelf(run: str, item: str) -> None:
    """Give the pins of the run that was planned for the shelf to the one that was started; what it had pinned stays."""
    transactions.assert_open()
    own = {one.step for one in _locked() if one.run_code == run}
    WeekPin.objects.filter(run_code=f"{for_shelf_of(item)}1").exclude(step__in=own).update(run_code=run)
    WeekPin.objects.filter(run_code__startswith=for_shelf_of(item)).delete()


def _subject(run: str, step: int) -> str:
    return f"run {run} step {step}"


def _number(code: str) -> int:
    number = code.rpartition("+")[2]
    return int(number) if number.isascii() and number.isdigit() and len(number) < 6 else 0


def _next_open(found: Proposed, day: dt.date) -> dt.date:
    hours = found.stated.shop.hours
    days = (day + dt.timedelta(days=number) for number in range(1, FURTHEST))
    return next((one for one in days if one.weekday() in hours.weekdays and one not in hours.closed), day)


def _locked() -> list[WeekPin]:
    return list(WeekPin.objects.select_for_update().order_by("place", "pk"))


def _alive(found: Proposed, rows: Sequence[WeekPin]) -> list[Put]:
    """Return the pins of what is still ahead, as they stand now."""
    return [put for row in rows if (put := Put(row.run_code, row.step, row.day)).key in found.ahead]


def _write(was: Sequence[WeekPin], now: Sequence[Put], *, at: dt.datetime, by: Actor) -> None:
    rows = {(row.run_code, row.step): row for row in was}
    kept = {put.key for put in now}
    WeekPin.objects.filter(pk__in=[row.pk for key, row in rows.items() if key not in kept]).delete()
    changed, new = [], []
    for place, put in enumerate(now, 1):
        row = rows.get(put.key)
        if row is None:
            new.append(WeekPin(run_code=put.run, step=put.step, day=put.day, place=place, pinned_at=at, by=by.person))
        elif (row.day, row.place) != (put.day, place):
            if row.day != put.day:
                row.day, row.pinned_at, row.by = put.day, at, by.person
            row.place = place
            changed.append(row)
    WeekPin.objects.bulk_update(changed, ["day", "place", "pinned_at", "by"])
    WeekPin.objects.bulk_create(new)

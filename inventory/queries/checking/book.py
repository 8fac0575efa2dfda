"""Entries and movements: nothing altered, nothing missing, and an entry that undoes is the mirror of what it undoes."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from itertools import islice

from django.db.models import Count, F

from inventory.models import Entry, Movement
from inventory.queries import seals
from inventory.queries.checking.span import CHUNK, Span
from shop.shared import append_only

Step = tuple[int, int, int, int, int, int]  # lot, quantity, from place and step, to place and step
_BATCH = 400  # pairs of entries; SQLite takes a limited number of values in one statement


def differences(span: Span) -> Iterator[str]:
    """Yield what is wrong with the rows of the book themselves."""
    for name in sorted(append_only.wanted() - append_only.present()):
        yield f"The trigger {name} that keeps the book append-only is missing; run after_migrate."
    yield from _entries(span)
    yield from _movements(span)
    yield from _reversals(span)


def _entries(span: Span) -> Iterator[str]:
    entries = Entry.objects.filter(pk__gte=span.first_entry)
    for pk, seal, *facts in entries.order_by("pk").values_list("pk", "seal", *seals.ENTRY).iterator(CHUNK):
        if seal != seals.of_entry_values(*facts):
            yield f"Entry {pk} was altered after it was booked."
    short = entries.annotate(found=Count("movements")).exclude(found=F("lines")).order_by("pk")
    for pk, lines, found in short.values_list("pk", "lines", "found").iterator(CHUNK):
        yield f"Entry {pk} was booked with {lines} lines and has {found}."


def _movements(span: Span) -> Iterator[str]:
    movements = Movement.objects.filter(pk__gt=span.after).order_by("pk")
    for row in movements.values_list("pk", "seal", *seals.MOVEMENT).iterator(CHUNK):
        if row[1] != seals.of_values(row[2:]):
            yield f"Movement {row[0]} (entry {row[2]}, line {row[3]}) was altered after it was booked."
    mixed = movements.exclude(item_id=F("lot__item_id")).values_list("pk", "lot__code")
    for pk, code in mixed.iterator(CHUNK):
        yield f"Movement {pk} names another item than its lot {code}."


def _reversals(span: Span) -> Iterator[str]:
    undoing = Entry.objects.filter(pk__gte=span.first_entry, reverses__isnull=False).order_by("pk")
    pairs = undoing.values_list("pk", "reverses_id", "reverses__kind").iterator(CHUNK)
    while batch := list(islice(pairs, _BATCH)):
        steps = _steps({entry for pk, undone, _ in batch for entry in (pk, undone)})
        for pk, undone, kind in batch:
            if kind == Entry.Kind.REVERSAL:
                yield f"Entry {pk} undoes entry {undone}, which undoes another itself."
            if Counter(steps[pk]) != Counter(_mirror(steps[undone])):
                yield f"Entry {pk} undoes entry {undone} and is not its mirror image."


def _steps(entries: set[int]) -> dict[int, list[Step]]:
    found: dict[int, list[Step]] = defaultdict(list)
    rows = Movement.objects.filter(entry_id__in=entries).values_list(
        "entry_id", "lot_id", "qty", "from_place_id", "from_step", "to_place_id", "to_step"
    )
    for entry, *step in rows.iterator(CHUNK):
        lot, qty, source, source_step, target, target_step = step
        found[entry].append((lot, qty, source, source_step, target, target_step))
    return found


def _mirror(steps: Iterable[Step]) -> Iterator[Step]:
    for lot, qty, source, source_step, target, target_step in steps:
        yield lot, qty, target, target_step, source, source_step

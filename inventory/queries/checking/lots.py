"""Lots, bars and what was made of what: every lot has an origin, no bar is longer than it was, no steel is mixed."""

from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter

from django.db.models import Exists, F, OuterRef, Q, Sum

from inventory.models import Bar, Entry, Holding, Item, Lot, LotParent, Movement, Place
from inventory.queries.checking.counters import named
from inventory.queries.checking.span import CHUNK, Span
from inventory.queries.sums import total

STEEL = (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD)
MADE_OF = (
    Entry.Kind.MADE_UP,
    Entry.Kind.CUT,
    Entry.Kind.PAINT_LOST,
    Entry.Kind.RUN_STARTED,
    Entry.Kind.RUN_SPLIT,
    Entry.Kind.OVEN,
    Entry.Kind.HAFTED,
)


def differences(span: Span) -> Iterator[str]:
    """Yield what is wrong with lots, bars and the trace between them."""
    yield from _lots(span)
    yield from _bars()
    yield from _bar_lengths()
    yield from _parents(span)
    yield from _mixed()


def _lots(span: Span) -> Iterator[str]:
    brought = Movement.objects.filter(lot=OuterRef("pk"), entry=OuterRef("entry_id"), from_place__inside=False)
    fresh = Lot.objects.filter(entry_id__gte=span.first_entry).order_by("pk")
    for code, entry in fresh.exclude(Exists(brought)).values_list("code", "entry_id").iterator(CHUNK):
        yield f"Lot {code} came from nowhere: entry {entry}, its origin, does not bring it in."
    for code in Lot.objects.filter(item__kind="bar", bar=None).order_by("pk").values_list("code", flat=True):
        yield f"Lot {code} is a bar and has no bar row."
    bare = Lot.objects.filter(item__kind__in=STEEL, melt=None).order_by("pk")
    for code in bare.values_list("code", flat=True):
        yield f"Lot {code} is steel and names no melt."
    other = Lot.objects.filter(item__kind__in=STEEL, melt__isnull=False, item__grade__isnull=False)
    other = other.exclude(melt__grade=F("item__grade")).order_by("pk")
    for code, melt in other.values_list("code", "melt_id").iterator(CHUNK):
        yield f"Lot {code} is of melt {melt}, whose grade is not that of its item."


def _bars() -> Iterator[str]:
    bars = Bar.objects.order_by("pk")
    for number in bars.exclude(lot__item__kind="bar").values_list("number", flat=True):
        yield f"Bar {number} is a lot of something that is no bar."
    for number in bars.exclude(lot__item__section_id=F("section_id")).values_list("number", flat=True):
        yield f"Bar {number} has another section than its item."
    there = bars.annotate(there=total(Holding.objects.all(), "on_hand", lot="pk")).filter(there__gt=F("length_nm"))
    for number, left, length in there.values_list("number", "there", "length_nm"):
        yield f"Bar {number} is {length} nm long and {left} nm of it are said to be there."
    cut = bars.filter(parent__isnull=False).annotate(
        told=Exists(LotParent.objects.filter(child=OuterRef("pk"), parent=OuterRef("parent_id")))
    )
    for number, parent in cut.filter(told=False).values_list("number", "parent__number"):
        yield f"Bar {number} is said to be cut from bar {parent}, and its lot does not say so."


def _bar_lengths() -> Iterator[str]:
    """A bar is as long as it came in, and as its length was measured or corrected since."""
    corrections = Movement.objects.filter(entry__kind=Entry.Kind.CORRECTION)
    found, lost = Q(from_place__kind=Place.Kind.DIFFERENCE), Q(to_place__kind=Place.Kind.DIFFERENCE)
    came = Movement.objects.filter(entry=F("lot__entry"), from_place__inside=False)
    booked = total(came, lot="pk") + total(corrections.filter(found), lot="pk")
    bars = Bar.objects.annotate(booked=booked - total(corrections.filter(lost), lot="pk"))
    wrong = bars.exclude(booked=F("length_nm")).order_by("pk")
    for number, length, sum_nm in wrong.values_list("number", "length_nm", "booked").iterator(CHUNK):
        yield f"Bar {number} says it is {length} nm long; what was booked of its length comes to {sum_nm} nm."


def _parents(span: Span) -> Iterator[str]:
    """What a lot says went into it was worked up; what was made up at the bench or sawn says all of it."""
    said: dict[tuple[int, int], tuple[int, list[int]]] = {}
    made = LotParent.objects.filter(child__entry__kind__in=MADE_OF, child__entry_id__gte=span.first_entry)
    for pk, entry, parent, qty in made.order_by("pk").values_list("pk", "child__entry_id", "parent_id", "quantity"):
        so_far, ids = said.get((entry, parent), (0, []))
        said[entry, parent] = (so_far + qty, [*ids, pk])
    worked = Movement.objects.filter(to_place__kind=Place.Kind.WORKED_UP).order_by()
    in_making = worked.filter(entry__kind__in=MADE_OF, entry_id__gte=span.first_entry)
    for entry, lot, code, qty in (
        in_making.values_list("entry_id", "lot_id", "lot__code").annotate(qty=Sum("qty")).iterator(CHUNK)
    ):
        told, ids = said.pop((entry, lot), (0, []))
        if told != qty:
            yield f"Entry {entry} worked up {int(qty)} of lot {code}; lot parents ({named(ids)}) tell of {told}."
    for (entry, _), (told, ids) in sorted(said.items()):
        yield f"Entry {entry} worked up none of it; lot parents ({named(ids)}) tell of {told}."
    parents = LotParent.objects.order_by().values_list("parent_id", "parent__code").annotate(told=Sum("quantity"))
    much = parents.annotate(gone=total(worked, lot="parent_id")).filter(told__gt=F("gone"))
    for _, code, told, gone in much.iterator(CHUNK):
        yield f"Lot {code} is said to have gone into others by {int(told)}; {gone} of it were worked up."


def _mixed() -> Iterator[str]:
    """Bars, blanks and heads are of one melt with all that went into them; a tool of two melts names none.

    A bar whose paint is lost is of the unknown melt, on purpose.
    """
    made = LotParent.objects.filter(parent__melt__isnull=False).exclude(child__entry__kind=Entry.Kind.PAINT_LOST)
    rows = made.order_by("child_id").values_list(
        "child_id", "child__code", "child__item__kind", "child__melt_id", "parent__melt_id"
    )
    for (code, kind, melt), group in groupby(rows.iterator(CHUNK), itemgetter(1, 2, 3)):
        mixed = {row[4] for row in group}
        if mixed == {melt} or (melt is None and kind not in STEEL and len(mixed) > 1):
            continue
        yield f"Lot {code} is of melt {melt or 'none'} and was made of melt {named(sorted(mixed))}."

"""Returns: what came back, what inspection decided, and what their entries moved."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from inventory.models import Entry, Movement
from inventory.queries.checking import Span, numbers
from inventory.queries.sums import total
from orders.models import Return, ReturnOutcome, ShipmentLine

Outcome = ReturnOutcome.Outcome


def differences(span: Span) -> Iterator[str]:
    """Yield what differs between returns, their outcomes and their entries."""
    yield from numbers.gaps("Return", Return.objects.all(), "return")
    yield from _returns(span)
    yield from _outcomes(span)


def _returns(span: Span) -> Iterator[str]:
    returns = Return.objects.order_by("pk")
    decided = total(ReturnOutcome.objects.filter(reversed_at=None), returned="pk")
    wrong = returns.annotate(decided=decided).exclude(decided=F("inspected"))
    for number, says, found in wrong.values_list("number", "inspected", "decided"):
        yield f"Return {number} says {says} inspected; its outcomes come to {found}."
    for number in returns.exclude(entry__kind=Entry.Kind.RETURN).values_list("number", flat=True):
        yield f"Return {number} names an entry that is no return."
    fresh = returns.filter(entry_id__gte=span.first_entry).annotate(
        moved=total(Movement.objects.all(), entry="entry_id")
    )
    for number, says, entry, found in fresh.exclude(moved=F("qty")).values_list("number", "qty", "entry_id", "moved"):
        yield f"Return {number} says {says} came back; entry {entry} moved {found}."
    for number in _undone_in_one(returns).values_list("number", flat=True):
        yield f"Return {number} was undone in the order book or in the stock book, and not in both."
    back = total(Return.objects.filter(reversed_at=None), shipment_line="pk")
    much = ShipmentLine.objects.order_by("pk").annotate(back=back).filter(back__gt=F("qty"))
    for pk, sent, came in much.values_list("pk", "qty", "back"):
        yield f"Shipment line {pk} sent {sent} and {came} came back."
    sent_lots = Movement.objects.exclude(lot__shipped_as__shipment_line=OuterRef("shipment_line_id"))
    strange = returns.filter(Exists(sent_lots.filter(entry=OuterRef("entry_id"))))
    for number in strange.values_list("number", flat=True):
        yield f"Return {number} brought back a lot that its shipment line did not send."


def _outcomes(span: Span) -> Iterator[str]:
    outcomes = ReturnOutcome.objects.order_by("pk")
    booked = outcomes.filter(entry__isnull=False)
    for pk in booked.exclude(entry__kind=Entry.Kind.INSPECTION).values_list("pk", flat=True):
        yield f"Return outcome {pk} names an entry that is no inspection."
    fresh = booked.filter(entry_id__gte=span.first_entry).annotate(
        moved=total(Movement.objects.all(), entry="entry_id")
    )
    for pk, says, entry, found in fresh.exclude(moved=F("qty")).values_list("pk", "qty", "entry_id", "moved"):
        yield f"Return outcome {pk} says {says}; entry {entry} moved {found}."
    for pk in _undone_in_one(booked).values_list("pk", flat=True):
        yield f"Return outcome {pk} was undone in the order book or in the stock book, and not in both."
    rehafted = Q(outcome=Outcome.REHAFT)
    for pk in outcomes.filter((rehafted & Q(entry__isnull=False)) | (~rehafted & Q(entry=None))).values_list(
        "pk", flat=True
    ):
        yield f"Return outcome {pk} moves pieces where it should not, or moves none where it should."
    replaced = Q(outcome=Outcome.REPLACED)
    odd = (replaced & Q(replacement=None)) | (~replaced & Q(replacement__isnull=False))
    for pk in outcomes.filter(odd).values_list("pk", flat=True):
        yield f"Return outcome {pk} names a line in replacement where it should not, or none where it should."


def _undone_in_one(rows: QuerySet[Any, Any]) -> QuerySet[Any, Any]:
    undone = Exists(Entry.objects.filter(reverses=OuterRef("entry_id")))
    rows = rows.annotate(undone=undone)
    return rows.filter(Q(reversed_at=None, undone=True) | Q(reversed_at__isnull=False, undone=False))

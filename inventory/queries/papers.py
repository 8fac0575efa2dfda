"""Certificates as they stand: those of a melt, those that are still awaited, and why one was taken back."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.models import Certificate, Delivery, DeliveryLine, Grade, Holding, Melt
from inventory.queries import grade_book
from shop.shared.models import AuditLine

TAKEN_BACK = "certificate taken back"


@dataclass(frozen=True, slots=True)
class Awaited:
    """A melt whose certificate was said to come: the delivery it came with, and how many bars of it are in the shop."""

    melt: Melt
    delivery: Delivery | None
    bars: int


def grade(code: str) -> Grade | None:
    """Return a grade by its code, however it is capitalised, with its rows of limits."""
    return grade_book.grades().filter(code__iexact=code.strip()).first()


def certificates() -> QuerySet[Certificate]:
    """Select every certificate with its melt, those taken back too."""
    return Certificate.objects.select_related("melt__grade", "filed_by", "delivery")


def certificate(number: int) -> Certificate | None:
    """Return a certificate by its number in the table."""
    return certificates().filter(pk=number).first()


def of_melt(found: Melt) -> QuerySet[Certificate]:
    """Select the certificates of a melt, the newest first."""
    return certificates().filter(melt=found).order_by("-id")


def why_taken_back(found: Certificate) -> str:
    """Return the reason a certificate was taken back with; nothing where it stands."""
    if found.withdrawn_at is None:
        return ""
    lines = AuditLine.objects.filter(subject=f"melt {found.melt_id}", action=TAKEN_BACK).order_by("-id")
    return next((line.reason for line in lines if (line.before or {}).get("certificate") == found.pk), "")


def awaited(*, most: int = 50) -> Sequence[Awaited]:
    """Return the melts whose certificate is awaited and of which bars are in the shop, the longest awaited first."""
    held = Holding.objects.filter(
        lot__melt__known=True,
        lot__melt__certificate_awaited=True,
        lot__bar__isnull=False,
        place__inside=True,
        on_hand__gt=0,
    )
    bars = Counter(held.values_list("lot__melt_id", flat=True))
    lines = DeliveryLine.objects.filter(melt__in=bars, delivery__state=Delivery.State.BOOKED)
    came: dict[int | None, Delivery] = {}
    for line in lines.select_related("delivery__supplier").order_by("delivery__happened_at", "id"):
        came.setdefault(line.melt_id, line.delivery)
    melts = Melt.objects.filter(pk__in=bars).select_related("grade").order_by("id")[:most]
    return [Awaited(one, came.get(one.pk), bars[one.pk]) for one in melts]

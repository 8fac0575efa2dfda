"""What a count says: good pieces, rejects with their causes and fates, and what else was seen."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import CountReject, Step, StepCause
from inventory.services.hardness import Reading
from shop.shared.errors import Invalid

Fate = CountReject.Fate
MOST_MINUTES = 100_000


@dataclass(frozen=True, slots=True)
class Reject:
    """So many pieces that are not good; no cause: not known yet."""

    qty: int
    cause: StepCause | None = None
    fate: str = Fate.SCRAP


@dataclass(frozen=True, slots=True)
class Weighed:
    """One head on the scale."""

    mass_mg: int
    typed: str
    number: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was counted, and what else was said about it."""

    good: int
    rejects: Sequence[Reject] = ()
    crack_checked: bool = False
    reading: Reading | None = None
    minutes: int | None = None
    people: int | None = None
    light: int = 0
    in_class: int = 0
    heavy: int = 0
    weights: Sequence[Weighed] = ()

    def of(self, fate: str) -> int:
        """Return how many pieces met a fate; a lost handle is no piece."""
        return sum(one.qty for one in self.rejects if one.fate == fate and not handle_only(one))

    @property
    def taken(self) -> int:
        """Return how many pieces were taken up."""
        return self.good + sum(one.qty for one in self.rejects if not handle_only(one))


def handle_only(reject: Reject) -> bool:
    """Return whether the handle was lost and the head is still there."""
    return reject.cause is not None and reject.cause.handle_only


def check_seen(step: Step, seen: Seen) -> None:
    """Refuse what cannot have been counted."""
    if seen.taken < 1:
        raise Invalid.field("good", "Good: nothing was counted; write how many were good or rejected.")
    if min(seen.good, seen.light, seen.in_class, seen.heavy, *(one.qty for one in seen.rejects), 0) < 0:
        raise Invalid.field("good", "Good: counts are 0 or more.")
    weighed = seen.light + seen.in_class + seen.heavy
    if weighed > seen.good:
        raise Invalid.field(
            "in_class",
            f"Weight classes: light, usual and heavy come to {weighed} and {seen.good} came off well;"
            f" {seen.good} in all at the most would work.",
        )
    for one in seen.rejects:
        _check_reject(step, one)
    for name, value in (("minutes", seen.minutes), ("people", seen.people)):
        if value is not None and not 1 <= value <= MOST_MINUTES:
            raise Invalid.field(name, f"{name.capitalize()}: 1 or more would work, or leave it empty.")


def _check_reject(step: Step, one: Reject) -> None:
    if one.qty < 1:
        raise Invalid.field("rejects", "Rejected: write how many for each cause, 1 or more.")
    if one.cause is not None and one.cause.step_id != step.pk:
        raise Invalid.field("rejects", f"Rejected: {one.cause.name} is no cause of {step.name}; choose one of its own.")
    if one.fate == Fate.SCRAP:
        return
    if one.cause is None:
        raise Invalid.field("rejects", "Rejected: a second or rework needs its cause; scrap may wait for it.")
    if one.fate == Fate.SECOND and not one.cause.second:
        raise Invalid.field(
            "rejects", f"Rejected: {one.cause.name} is never a second; book it as scrap, or as rework where it can be."
        )
    if one.fate == Fate.REWORK and one.cause.rework_to is None:
        raise Invalid.field("rejects", f"Rejected: {one.cause.name} cannot be worked over; book it as scrap.")

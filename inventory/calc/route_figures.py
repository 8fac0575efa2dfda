"""Figures of a route: what share comes good past its points, how long a run takes, and what a reject has cost by then."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from inventory.calc.routes_seed import SeedCause, SeedStep

MILLION: Final = 1_000_000
_SECONDS_PER_MINUTE: Final = 60
_SECONDS_PER_HOUR: Final = 3_600


def good_ppm(causes: Sequence[SeedCause], *, worked_over: bool = False) -> int:
    """Give the share of heads that get past a counting point.

    Args:
        causes: those of the point, each with its share of the pieces, 0 to 1 000 000 ppm; a cause that costs the handle
            alone takes no head.
        worked_over: whether pieces that are worked over count as good, as they do in the end; at the first go they do not.

    Returns:
        ppm, 0 to 1 000 000.

    Raises:
        ValueError: a negative share, or causes that come to more than all pieces.

    Source: a piece is rejected for one cause only, so the shares add up; common practice, no source.
    """
    if any(cause.loss_ppm < 0 for cause in causes):
        raise ValueError("a cause takes a share of 0 or more")
    heads = [cause for cause in causes if not cause.handle_only]
    lost = sum(cause.loss_ppm for cause in heads if not (worked_over and cause.rework_to is not None))
    if lost > MILLION:
        raise ValueError(f"causes of one point come to 1 000 000 ppm at most, not {lost}")
    return MILLION - lost


def rolled_ppm(rates_ppm: Sequence[int]) -> int:
    """Give the share that gets past several points, one after the other.

    Args:
        rates_ppm: the share that gets past each, 0 to 1 000 000 ppm.

    Returns:
        Their product, ppm, rounded half-even once; all where there is no point.

    Raises:
        ValueError: a rate out of range.

    Source: rolled throughput yield, the product of the yields of the points (from memory).
    """
    if any(not 0 <= rate <= MILLION for rate in rates_ppm):
        raise ValueError("a rate is 0 to 1 000 000 ppm")
    product = Fraction(1)
    for rate in rates_ppm:
        product *= Fraction(rate, MILLION)
    return round(product * MILLION)


def run_seconds(steps: Sequence[SeedStep], pieces: int) -> int:
    """Give how long the steps of a run keep their people busy, cures and soaks not counted.

    Args:
        steps: those that are done; an optional step that is not done is left out by the caller.
        pieces: that go through each of them, 0 or more; a run without pieces is not set up either.

    Returns:
        Whole seconds by the clock: set-up, and pieces times the seconds of one, whatever number of people a step takes.

    Raises:
        ValueError: a number of pieces or a time under 0.
    """
    if pieces < 0 or any(step.set_up_minutes < 0 or step.seconds_each < 0 for step in steps):
        raise ValueError("pieces, set-up and seconds of a piece are 0 or more")
    if not pieces:
        return 0
    return sum(step.set_up_minutes * _SECONDS_PER_MINUTE + pieces * step.seconds_each for step in steps)


@dataclass(frozen=True, slots=True)
class Spent:
    """What one piece takes at a step.

    Args:
        number: of the step, 1 or more.
        seconds_each: by the clock, 0 or more.
        people: at work on it, 1 or more.
        uses_minor: consumables, minor units, 0 or more; a belt is shared by many pieces, so parts of a unit are kept.
        hafts: whether the handle goes in here.

    Raises:
        ValueError: a value out of range.
    """

    number: int
    seconds_each: int = 0
    people: int = 1
    uses_minor: Fraction = Fraction(0)
    hafts: bool = False

    def __post_init__(self) -> None:
        if self.number < 1 or self.people < 1:
            raise ValueError("steps are numbered from 1 and take a person or more")
        if self.seconds_each < 0 or self.uses_minor < 0:
            raise ValueError("a piece takes 0 seconds and 0 of a consumable or more")


def reject_cost_minor(
    point: int, steps: Sequence[Spent], *, steel_minor: int, labour_minor_per_hour: int, handle_minor: int = 0
) -> int:
    """Give what a piece has cost when it is rejected at a point; where only the handle is lost, that is the handle alone.

    Args:
        point: number of the step it is rejected at; the work of that step is done.
        steps: of the route, upwards by number; later ones are not counted.
        steel_minor: the blank, minor units, 0 or more.
        labour_minor_per_hour: of one person, minor units, 0 or more.
        handle_minor: the handle, minor units, 0 or more; counted from the step that hafts.

    Returns:
        Steel, consumables, minutes at the rate, and the handle where there is one by then: minor units, rounded half-even
        once. Set-up is the run's and is not in it.

    Raises:
        ValueError: an amount under 0, steps not upwards by number, or a point that is none of them.
    """
    if min(steel_minor, labour_minor_per_hour, handle_minor) < 0:
        raise ValueError("steel, labour and handle cost 0 or more")
    numbers = [step.number for step in steps]
    if numbers != sorted(set(numbers)) or point not in numbers:
        raise ValueError("steps go upwards by number, and the point is one of them")
    done = [step for step in steps if step.number <= point]
    seconds = sum(step.seconds_each * step.people for step in done)
    uses = sum((Fraction(step.uses_minor) for step in done), start=Fraction(0))
    handle = handle_minor if any(step.hafts for step in done) else 0
    return round(steel_minor + uses + Fraction(seconds * labour_minor_per_hour, _SECONDS_PER_HOUR) + handle)

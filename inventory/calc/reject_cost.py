"""What a reject has cost by the counting point it is found at."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

_SECONDS_PER_HOUR: Final = 3_600


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

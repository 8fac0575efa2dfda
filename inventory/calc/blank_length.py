"""From the wanted weight of a bare head to the length of its blank, and back; what is lost between, learned from heads weighed."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

MILLION: Final = 1_000_000
USUAL_LOSS_PPM: Final = 110_000  # No source: common practice, from blank to bare head
USUAL_RANGE_PPM: Final = (70_000, 150_000)  # No source: common practice, few forging heats to many in a lean fire
ENOUGH_HEADS: Final = 20  # No source: from so many weighed heads on the shop's own loss counts


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a head loses on the way: the slug out of its eye, mg; scale and grinding, ppm of what is there then."""

    slug_mg: int = 0
    scale_ppm: int = 0
    grinding_ppm: int = 0

    def __post_init__(self) -> None:
        if self.slug_mg < 0 or not 0 <= self.scale_ppm < MILLION or not 0 <= self.grinding_ppm < MILLION:
            raise ValueError("a slug weighs 0 or more, and less than all goes to scale and to grinding")


def blank_length_nm(head_mg: int, allowance: Allowance, ug_per_mm: int) -> int:
    """Give the length of a blank.

    Args:
        head_mg: the bare head as wanted, mg, 1 or more.
        allowance: what it loses.
        ug_per_mm: mass of a millimetre of the bar, micrograms, 1 or more; `steel.mass_per_length` gives it.

    Returns:
        The length in nm, rounded half-even once.

    Raises:
        ValueError: a value out of range.

    Source: (head / (1 - grinding) + slug) / ((1 - scale) mass of unit length); common practice, no source.
    """
    if head_mg < 1 or ug_per_mm < 1:
        raise ValueError("a head and a millimetre of bar weigh something")
    rough = Fraction(head_mg * MILLION, MILLION - allowance.grinding_ppm) + allowance.slug_mg
    blank_mg = rough * MILLION / (MILLION - allowance.scale_ppm)
    return round(blank_mg * 1_000 * MILLION / ug_per_mm)


def head_mg(length_nm: int, allowance: Allowance, ug_per_mm: int) -> int:
    """Give the bare head that comes of a blank.

    Args:
        length_nm: of the blank, nm, 1 or more.
        allowance: what it loses.
        ug_per_mm: mass of a millimetre of the bar, micrograms, 1 or more.

    Returns:
        The head, mg, rounded half-even once.

    Raises:
        ValueError: a value out of range, or a blank of which nothing is left.

    Source: (blank (1 - scale) - slug) (1 - grinding), the way back of the length; common practice, no source.
    """
    return round(_head(_blank(length_nm, ug_per_mm), allowance))


def _blank(length_nm: int, ug_per_mm: int) -> Fraction:
    """Exact mass of a blank, mg."""
    if length_nm < 1 or ug_per_mm < 1:
        raise ValueError("a blank has a length and weighs something")
    return Fraction(length_nm * ug_per_mm, 1_000 * MILLION)


def _head(blank: Fraction, allowance: Allowance) -> Fraction:
    """Exact mass of the head that comes of a blank, mg."""
    left = blank * (MILLION - allowance.scale_ppm) / MILLION - allowance.slug_mg
    if left <= 0:
        raise ValueError("the slug is all there is of this blank")
    return left * (MILLION - allowance.grinding_ppm) / MILLION


def length_for_loss_nm(head: int, loss_ppm: int, ug_per_mm: int) -> int:
    """Give the length of a blank from one figure for all that is lost.

    Args:
        head: the bare head as wanted, mg, 1 or more.
        loss_ppm: of the blank's mass, 0 to under a million.
        ug_per_mm: mass of a millimetre of the bar, micrograms, 1 or more.

    Returns:
        The length in nm, rounded half-even once.

    Raises:
        ValueError: a value out of range.
    """
    if head < 1 or not 0 <= loss_ppm < MILLION or ug_per_mm < 1:
        raise ValueError("a head and a millimetre of bar weigh something, and less than all is lost")
    return round(Fraction(head * MILLION, MILLION - loss_ppm) * 1_000 * MILLION / ug_per_mm)


@dataclass(frozen=True, slots=True)
class Loss:
    """What is lost from blank to head, ppm, its spread, from how many heads, and whether it is learned from them."""

    ppm: int
    spread_ppm: int
    heads: int
    learned: bool


def loss_from(heads_mg: Sequence[int], blank_mg: int, *, usual_ppm: int = USUAL_LOSS_PPM) -> Loss:
    """Learn what is lost from heads on the scale.

    Args:
        heads_mg: bare heads, mg, each 1 or more and no more than the blank.
        blank_mg: what each was made of, mg, 1 or more.
        usual_ppm: taken until twenty are weighed, 0 to under a million.

    Returns:
        Mean and standard deviation over the heads, or the usual figure while they are too few.

    Raises:
        ValueError: a head heavier than its blank, or another value out of range.

    Source: mean and standard deviation of a sample (from memory; any textbook of statistics).
    """
    if not 0 <= usual_ppm < MILLION:
        raise ValueError("less than all is lost, usually")
    if blank_mg < 1 or any(not 1 <= head <= blank_mg for head in heads_mg):
        raise ValueError("a head weighs something and no more than its blank")
    if len(heads_mg) < ENOUGH_HEADS:
        return Loss(usual_ppm, 0, len(heads_mg), learned=False)
    shares = [Fraction((blank_mg - head) * MILLION, blank_mg) for head in heads_mg]
    return Loss(round(statistics.mean(shares)), round(statistics.stdev(shares)), len(shares), learned=True)

"""How long a step takes at the mean, and how many loads of the oven pieces make."""

import math
from typing import Final

from orders.calc.dates.route import Fire, Oven, Step

PIECE: Final = 0.5  # pieces at the mean are rounded to the nearest where whole ones count
SAME: Final = 1e-9  # shares of the oven closer than this are the same


def rate_of(step: Step) -> float:
    """Give the mean share of pieces that come off well at the first go."""
    return step.good / (step.good + step.bad) if step.good else 1.0


def minutes_of(step: Step, pieces: float) -> float:
    """Give the minutes of work of a step at the mean, without what is set up.

    Args:
        step: of the route.
        pieces: that come to it, a mean of 0 or more.

    Returns:
        Minutes; no less than the fire takes, and what is worked over besides.

    Source: the mean of what `scenarios` draws.
    """
    work = pieces * step.minutes * (step.varies.mean if step.varies else 1.0)
    work = max(work, fire_minutes(step.fire, pieces)) if step.fire else work
    return work + pieces * (1 - rate_of(step)) * step.rework * step.rework_minutes


def fire_minutes(fire: Fire, pieces: float) -> float:
    """Give the minutes until the fire has made so many pieces hot, batch after batch."""
    return math.ceil(pieces / fire.batch - SAME) * fire.minutes


def holds(oven: Oven) -> int:
    """Give how many pieces go into the oven at once."""
    return int(1 / oven.share + SAME)


def loads(oven: Oven, pieces: float) -> int:
    """Give how many loads pieces of one run make; at the mean they are rounded to the nearest piece, one load at least."""
    return max(1, math.ceil((pieces - PIECE) / holds(oven)))

"""Two routes to begin with: free-hand, and in series with tooling over two forging heats.

The figures are what a shop writes down before it has counted anything; its own counts replace them. Minutes, spreads and
causes are common practice, no source, unless a line names one. The losses of the counting points multiply to eight in a
hundred for a pattern that is known and fifteen for a new one.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from shop.shared.units import MG_PER_LB

KNOWN_LOSS_PPM: Final = 80_000  # No source: common practice, the whole route of an established pattern
NEW_LOSS_PPM: Final = 150_000  # No source: common practice, a new pattern, steel or quench
MILLION: Final = 1_000_000
_HALVINGS: Final = 80  # of the factor; more than doubles can tell apart
TEMPER_DC: Final = 2_040  # 204 °C (400 °F) for medium carbon, common practice, no source
TEMPER_MINUTES: Final = 120  # about two hours, common practice, no source
OIL_MINUTES: Final = 12 * 60  # a wiped coat of linseed oil, common practice, no source
WITHIN_MINUTES: Final = 120  # No source: hardened heads are in the temper within two hours


@dataclass(frozen=True, slots=True)
class SeedCause:
    """A cause of rejects: its share of the pieces, ppm, and what may become of them."""

    name: str
    loss_ppm: int
    second: bool = False
    rework_to: int | None = None
    handle_only: bool = False


@dataclass(frozen=True, slots=True)
class SeedUse:
    """What a step uses up, in a plain word: so much for a hundred pieces, in mg, ul or pieces as the book counts it."""

    what: str
    per_hundred: int
    unit: str


@dataclass(frozen=True, slots=True)
class SeedStep:
    """One step: minutes in seconds a piece, the people it takes, and what the oven and the cures need."""

    number: int
    name: str
    work: str
    counting_point: bool = False
    stage: str = "head"
    set_up_minutes: int = 0
    seconds_each: int = 0
    spread_percent: int = 25
    people: int = 1
    machines: tuple[str, ...] = ()
    fire_batch: int = 0
    oven_fits: int = 0
    cure_minutes: int = 0
    temperature_dc: int = 0
    soak_minutes: int = 0
    within_minutes: int = 0
    optional: bool = False
    strike_code: bool = False
    causes: tuple[SeedCause, ...] = field(default=())
    uses: tuple[SeedUse, ...] = field(default=())

    @property
    def loss_ppm(self) -> int:
        """The share of heads that are lost here for good, ppm: not handles, and not what is worked over."""
        lost = (one.loss_ppm for one in self.causes if not one.handle_only and one.rework_to is None)
        return sum(lost)


_FIRST = (
    SeedCause("eye off centre", 14_000, second=True),
    SeedCause("cheek split", 9_000),
    SeedCause("mis-strike", 5_000, second=True),
)
_SECOND = (SeedCause("cold shut", 8_000), SeedCause("mis-strike", 7_000, second=True), SeedCause("burnt", 2_000))
_GROUND = (SeedCause("under weight", 6_000, second=True),)
_CHECKED = (
    SeedCause("quench crack", 21_000),
    SeedCause("soft face", 20_000, rework_to=6),
    SeedCause("over or under temper", 10_000, rework_to=7),
)
_PACKED = (SeedCause("head loose", 5_000, second=True), SeedCause("grain run-out", 5_000, second=True))

# What a hundred pieces use up: common practice, no source. Handles, wedges and glue are booked at hafting.
_BELTS = (
    SeedUse("coarse belt", 8, "piece"), SeedUse("medium belt", 5, "piece"), SeedUse("fine belt", 3, "piece"),
)  # fmt: skip
_OIL = (SeedUse("boiled linseed oil", 1_500_000, "ul"),)  # 15 ml a tool, one coat and what stays in the rag


def _gas(pounds: int) -> tuple[SeedUse, ...]:
    """Propane for a hundred heads: 1 to 3 lb a head over its forging heats, the warm-up of the fire among it."""
    return (SeedUse("propane", round(pounds * MG_PER_LB), "mg"),)


def _route(first: int, second: int, machines: tuple[str, ...], *, gas: tuple[int, int]) -> tuple[SeedStep, ...]:
    """Put the steps together; forging times in seconds a head, gas in pounds for a hundred heads."""
    return (
        SeedStep(1, "first forging heat", "forge", counting_point=True, set_up_minutes=20, seconds_each=first,
                 machines=machines, fire_batch=4, causes=_FIRST, uses=_gas(gas[0])),
        SeedStep(2, "second forging heat", "forge", counting_point=True, set_up_minutes=5, seconds_each=second,
                 machines=machines, fire_batch=4, strike_code=True, causes=_SECOND,
                 uses=_gas(gas[1])),
        SeedStep(3, "draw the eye", "forge", seconds_each=60, optional=True),
        SeedStep(4, "normalise", "cool", seconds_each=60, cure_minutes=120),
        SeedStep(5, "ground", "grind", counting_point=True, set_up_minutes=5, seconds_each=540,
                 machines=("GRINDER",), causes=_GROUND, uses=_BELTS),
        SeedStep(6, "harden", "harden", set_up_minutes=30, seconds_each=300, machines=("FORGE", "QUENCH"),
                 temperature_dc=8_450, within_minutes=WITHIN_MINUTES),
        SeedStep(7, "temper", "temper", set_up_minutes=10, seconds_each=60, machines=("OVEN",), oven_fits=30,
                 temperature_dc=TEMPER_DC, soak_minutes=TEMPER_MINUTES),
        SeedStep(8, "tempered and checked", "check", counting_point=True, set_up_minutes=5, seconds_each=150,
                 causes=_CHECKED),
        SeedStep(9, "hafted", "haft", counting_point=True, stage="tool", set_up_minutes=10, seconds_each=840,
                 machines=("BENCH",), causes=(SeedCause("handle split", 30_000, handle_only=True),)),
        SeedStep(10, "oiled", "oil", stage="tool", set_up_minutes=5, seconds_each=90, cure_minutes=OIL_MINUTES,
                 uses=_OIL),
        SeedStep(11, "packed", "pack", counting_point=True, stage="tool", seconds_each=240, causes=_PACKED),
    )  # fmt: skip


# About three quarters of an hour of hammer and anvil a head by hand (common practice, no source).
FREE_HAND: Final = _route(1_200, 1_500, ("FORGE", "HAMMER"), gas=(100, 125))
# About six minutes of forging a head over two forging heats with tooling in (common practice, no source).
SERIES: Final = _route(200, 160, ("FORGE", "HAMMER", "PRESS"), gas=(90, 70))
# Both harden medium carbon in water, from the temperature of that step (common practice, no source).


# A short route of handles out of the shop's own wood room (common practice, no source).
HANDLES: Final = (
    SeedStep(1, "sawn out", "other", counting_point=True, set_up_minutes=10, seconds_each=240,
             causes=(SeedCause("knot", 40_000), SeedCause("run-out of the grain", 20_000))),
    SeedStep(2, "shaped", "other", counting_point=True, set_up_minutes=10, seconds_each=480,
             causes=(SeedCause("split", 15_000), SeedCause("shaped too thin", 10_000, second=True))),
    SeedStep(3, "sanded", "finish", counting_point=True, seconds_each=180, causes=(SeedCause("wind", 5_000),)),
)  # fmt: skip


def losses(route: Sequence[SeedStep], *, new: bool = False) -> list[SeedStep]:
    """Give the route with its losses set so that they multiply to what is usual.

    Args:
        route: the steps.
        new: whether the pattern is new.

    Returns:
        The steps, each cause's share scaled by one factor; the good rates of the points multiply to 92 in a hundred, or
        85 of a new pattern, to a few parts in a million.

    Raises:
        ValueError: a route that loses nothing, or one that works over so much for what it loses that its causes would come
            to more than all pieces of a point.
    """
    wanted = 1 - (NEW_LOSS_PPM if new else KNOWN_LOSS_PPM) / MILLION
    if not any(step.loss_ppm for step in route):
        raise ValueError("a route without a loss cannot be scaled to one")
    # At the upper end the worst point loses all, so the wanted share lies below it and no point is under nothing.
    low, high = 0.0, MILLION / max(step.loss_ppm for step in route)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _good(route, middle) > wanted else (low, middle)
    scaled = [replace(step, causes=tuple(_scaled(cause, low) for cause in step.causes)) for step in route]
    if any(good_ppm(step) < 0 for step in scaled):
        raise ValueError("a route cannot be scaled where a point would reject more than all pieces")
    return scaled


def _good(route: Sequence[SeedStep], factor: float) -> float:
    return math.prod(1 - step.loss_ppm * factor / MILLION for step in route)


def _scaled(cause: SeedCause, factor: float) -> SeedCause:
    return cause if cause.handle_only else replace(cause, loss_ppm=round(cause.loss_ppm * factor))


def good_ppm(step: SeedStep) -> int:
    """Give the share of heads that is not rejected at a step at the first go.

    Args:
        step: with the share of each cause, 0 to 1 000 000 ppm.

    Returns:
        ppm; what is worked over counts as rejected here, a handle lost alone does not.
    """
    return MILLION - sum(one.loss_ppm for one in step.causes if not one.handle_only)

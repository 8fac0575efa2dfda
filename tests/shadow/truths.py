"""What is true of a shadow shop and stands on no card. Only the simulation and the judge of a calibration read it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.shadow.facts import Facts
from tests.shadow.laws import FOLLOWS_THE_LAWS, Laws


@dataclass(frozen=True, slots=True)
class StepTruth:
    """The true mean work minutes per piece of a step, and its true good rate (1 where nothing is counted)."""

    minutes: float
    good: float = 1.0


@dataclass(frozen=True, slots=True)
class SupplyTruth:
    """How late an item comes, (days, chance) in order of days, and the share of its pieces that is bad."""

    late: tuple[tuple[int, float], ...] = ((0, 1.0),)
    bad: float = 0.0


@dataclass(frozen=True, slots=True)
class OpeningRun:
    """A run that lies on the floor at minute 0: `after[k]` pieces came out of step k; the next step is `len(after)`."""

    code: str
    pattern: str
    blanks: int
    after: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """A line of an order: `qty` pieces of a pattern, asked for on the morning of `asked` (a day number).

    `kind` is "one-off" or "dealer". Lines stand in the shop's tuple in the order they were asked for, which is the order
    promised and the order they are served in.
    """

    order: int
    number: int
    kind: str
    pattern: str
    qty: int
    asked: int


@dataclass(frozen=True, slots=True)
class Shop:
    """One shop: what is known of it, what is true of it, what lies there at minute 0 and what will be asked for.

    Attributes:
        seed: every random stream of the simulation is keyed by it.
        weeks: length of the simulation.
        steps: truth of each (pattern, step number) that is Work.
        sick: chance of each person, being well, to fall ill on an open day.
        breakdown: chance of each machine, the oven too, being sound, to fail on an open day.
        supplies: truth of each bought item.
        stock: pieces at minute 0 by item; items are blanks, handles and tools (by the name of the pattern).
        tooling: the set that is in on each machine at minute 0.
    """

    seed: int
    weeks: int
    facts: Facts
    steps: Mapping[tuple[str, int], StepTruth]
    laws: Laws = FOLLOWS_THE_LAWS
    sick: Mapping[str, float] = field(default_factory=dict)
    breakdown: Mapping[str, float] = field(default_factory=dict)
    supplies: Mapping[str, SupplyTruth] = field(default_factory=dict)
    stock: Mapping[str, int] = field(default_factory=dict)
    tooling: Mapping[str, str] = field(default_factory=dict)
    opening: tuple[OpeningRun, ...] = ()
    lines: tuple[Line, ...] = ()

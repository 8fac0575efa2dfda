"""What is made and how: products, the steps of their routes, what the fire and the oven take."""

from dataclasses import dataclass
from typing import Final

from orders.calc.dates.chance import Law

MOST_SPREAD: Final = 3.0  # No source: a log spread above this is a slip of the pen


@dataclass(frozen=True, slots=True)
class Fire:
    """What the fire takes at once beside the hammer, and the minutes until a batch is hot."""

    batch: int
    minutes: float

    def __post_init__(self) -> None:
        if self.batch < 1 or self.minutes < 0:
            raise ValueError("a fire takes a piece or more and does not cool them")


@dataclass(frozen=True, slots=True)
class Oven:
    """A load: what share of the oven one piece takes, minutes until it is hot, minutes at temperature, which temperature.

    Pieces of one temperature and soak go in together. Unattended, a load may run on after closing.
    """

    share: float
    heat_up: int
    soak: int
    kind: str
    unattended: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.share <= 1 or self.heat_up < 0 or self.soak < 0:
            raise ValueError("a piece takes up to the whole oven, heating and soaking take no less than no time")

    @property
    def minutes(self) -> int:
        """Minutes from the door shut to the door open."""
        return self.heat_up + self.soak


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a route.

    `minutes` for one piece of all people together by the clock; `varies` how a run's minutes vary, `unsure` the log spread
    of the mean itself. `hands` who can do it (nobody named: everybody), `people` how many it takes at once.
    `machines` are held all at once. A tooling set that is not in costs `change` minutes. `good` and `bad` are the Beta
    counts of a counting point, both 0 where nothing is counted; `rework` the share of rejects that are worked over once,
    at `rework_minutes` each. `cure` elapsed minutes until the next step may begin. `uses` items for a piece.
    """

    number: int
    name: str
    minutes: float = 0.0
    varies: Law | None = None
    unsure: float = 0.0
    set_up: float = 0.0
    tooling: str = ""
    change: float = 0.0
    people: int = 1
    hands: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()
    good: float = 0.0
    bad: float = 0.0
    rework: float = 0.0
    rework_minutes: float = 0.0
    cure: int = 0
    fire: Fire | None = None
    oven: Oven | None = None
    uses: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        if min(self.minutes, self.set_up, self.change, self.rework_minutes, self.cure) < 0:
            raise ValueError(f"step {self.number}: minutes are not below nothing")
        if not 0 <= self.unsure <= MOST_SPREAD:
            raise ValueError(f"step {self.number}: a spread lies between 0 and {MOST_SPREAD}")
        if self.people < 0 or not 0 <= self.rework <= 1 or any(much <= 0 for _, much in self.uses):
            raise ValueError(f"step {self.number}: people, rework or what it uses is out of range")
        if (self.good, self.bad) != (0, 0) and min(self.good, self.bad) <= 0:
            raise ValueError(
                f"step {self.number}: a rate is learned from more than no good and no bad pieces; use a prior"
            )
        if self.oven is not None and not self.machines:
            raise ValueError(f"step {self.number}: an oven load needs its oven among the machines")

    @property
    def rate(self) -> float:
        """The mean share of pieces that come off well, those worked over among them."""
        if not self.good:
            return 1.0
        mean = self.good / (self.good + self.bad)
        return mean + (1 - mean) * self.rework * mean


@dataclass(frozen=True, slots=True)
class Product:
    """An item that is made, its pattern, its route, and the item it is made from.

    Lines are made together up to `usual` pieces, so that a small order does not wait for a big one that came later; `most`
    pieces make a run at the most; a bar gives `bar_gives` of what it is made from, to which runs are rounded up.
    """

    item: str
    pattern: str
    steps: tuple[Step, ...]
    made_from: str = ""
    usual: int = 12
    most: int = 60
    bar_gives: int = 1

    def __post_init__(self) -> None:
        numbers = [step.number for step in self.steps]
        if not numbers or numbers != sorted(set(numbers)):
            raise ValueError(f"{self.item}: a route has steps, numbered upwards, none twice")
        if min(self.usual, self.most, self.bar_gives) < 1:
            raise ValueError(f"{self.item}: a run and a bar give a piece or more")

"""What the calculator knows of a shop. Days count from 0, the first day; minutes from midnight before it."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Final

from orders.calc.dates.chance import Law

DAY: Final = 1440  # minutes
MOST_SPREAD: Final = 3.0  # No source: a log spread above this is a slip of the pen


@dataclass(frozen=True, slots=True)
class Hours:
    """When the shop works and when parcels go.

    `weekdays` and `carrier_weekdays` count Monday as 0. `production` is the share of the open day that is production: an
    hour of work takes an hour over it. `closed` are holidays and the days of shutdowns.
    """

    first_day: dt.date
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4)
    opens: int = 8 * 60
    closes: int = 17 * 60
    production: float = 0.65
    closed: frozenset[dt.date] = frozenset()
    carrier_weekdays: tuple[int, ...] = (0, 1, 2, 3, 4)
    carrier_cutoff: int = 15 * 60

    def __post_init__(self) -> None:
        if not 0 <= self.opens < self.closes <= DAY:
            raise ValueError("the shop opens before it closes, both within one day")
        if not 0 < self.production <= 1:
            raise ValueError("the share of production is above 0 and at most 1")
        if not self.weekdays or not self.carrier_weekdays:
            raise ValueError("a shop is open, and a carrier comes, on some day of the week")
        if not set(self.weekdays) | set(self.carrier_weekdays) <= set(range(7)):
            raise ValueError("weekdays are 0 for Monday to 6 for Sunday")
        if not 0 <= self.carrier_cutoff <= DAY:
            raise ValueError("the carrier's hour lies within a day")


@dataclass(frozen=True, slots=True)
class Spells:
    """How often something is away and for how long.

    `chance` that a spell begins on an open day, for somebody who is there; `lasts` open days of spells that were noted,
    one as likely as the other.
    """

    chance: float = 0.0
    lasts: tuple[int, ...] = (1,)

    def __post_init__(self) -> None:
        if not 0 <= self.chance < 1 or not self.lasts or min(self.lasts) < 1:
            raise ValueError("a spell begins with a chance of 0 to under 1 a day and lasts a day or more")


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works: known days away, and how often he is ill; `ill_for` open days by now, today counted."""

    code: str
    out: frozenset[int] = frozenset()
    ill: Spells = field(default_factory=Spells)
    ill_for: int = 0


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine: known days down, how often it breaks down, and until which minute something is in it."""

    code: str
    down: frozenset[int] = frozenset()
    breaks: Spells = field(default_factory=Spells)
    busy: int = 0


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


@dataclass(frozen=True, slots=True)
class Batch:
    """Pieces that stand together after a step (0: not begun), ready for the next at a minute.

    `spare` pieces, such as heads on the shelf, go on only as far as they are wanted. `done_minutes` were worked on the
    next step already, by the people in `by`, who go on with it.
    """

    code: str
    item: str
    step: int
    pieces: int
    ready: int = 0
    spare: bool = False
    done_minutes: float = 0.0
    by: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.pieces < 1 or self.ready < 0 or self.done_minutes < 0:
            raise ValueError(f"{self.code}: a batch has pieces, and is ready and worked on from now on")


@dataclass(frozen=True, slots=True)
class Supplier:
    """How late deliveries of a supplier came, in days (early below nothing), and days from order to the promised day."""

    code: str
    late_days: tuple[int, ...] = (0,)
    lead_days: int = 14

    def __post_init__(self) -> None:
        if not self.late_days or self.lead_days < 0:
            raise ValueError(f"{self.code}: a supplier has a record, if only a prior, and a lead time from 0 days")


@dataclass(frozen=True, slots=True)
class Coming:
    """A delivery under way: which item, how many pieces, the day it was promised for."""

    item: str
    pieces: int
    day: int
    supplier: str

    def __post_init__(self) -> None:
        if self.pieces < 1:
            raise ValueError(f"{self.item}: a delivery brings a piece or more")


@dataclass(frozen=True, slots=True)
class Line:
    """Pieces still owed of an order and not yet set aside; nought where all is there and only the parcel is to go."""

    order: str
    item: str
    pieces: int
    day: int | None = None
    sure: float = 0.9
    alone: bool = False

    def __post_init__(self) -> None:
        if self.pieces < 0 or not 0 < self.sure < 1:
            raise ValueError(f"{self.order}: a line owes pieces, with a chance between 0 and 1")


@dataclass(frozen=True, slots=True)
class Pin:
    """An operation somebody put on the week sheet: a run's step, not before a day."""

    run: str
    step: int
    day: int


@dataclass(frozen=True, slots=True)
class Shop:
    """All of it. Lines stand in the order they were promised; pins in the order of the sheet.

    `tooling_in` names the set that is in each machine. `now` is the minute of the first day, `lorry` the minute of a day
    from which a delivery can be used; `starts_sure` how sure a run shall give enough good pieces; a further run for
    what is short in the end takes `top_up_waits` times its minutes of work, for it waits among others.
    `unrest` is the mean share by which the time a run has left turns out longer or shorter because the plan is made anew
    each morning: another run steps in while one waits, and stands in its way afterwards.
    """

    hours: Hours
    people: tuple[Person, ...]
    machines: tuple[Machine, ...] = ()
    products: tuple[Product, ...] = ()
    stock: dict[str, int] = field(default_factory=dict)
    batches: tuple[Batch, ...] = ()
    coming: tuple[Coming, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    buys_from: dict[str, str] = field(default_factory=dict)
    lines: tuple[Line, ...] = ()
    pins: tuple[Pin, ...] = ()
    tooling_in: dict[str, str] = field(default_factory=dict)
    now: int = 8 * 60
    lorry: int = 12 * 60
    starts_sure: float = 0.8
    pack_minutes: int = 30
    top_up_waits: float = 2.0
    unrest: float = 0.12
    horizon_days: int = 400

    def __post_init__(self) -> None:
        held = [*(one.code for one in self.people), *(one.code for one in self.machines)]
        for codes in (held, [one.code for one in self.batches], [one.item for one in self.products]):
            if len(set(codes)) < len(codes):
                raise ValueError("people and machines, batches, products: each has a code of its own")

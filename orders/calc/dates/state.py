"""What the calculator knows of a shop. Days count from 0, the first day; minutes from midnight before it."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Final

from orders.calc.dates.route import Product

DAY: Final = 1440  # minutes


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
class ForShelf:
    """Pieces to be started of an item that nobody has ordered: made behind all lines, and counted on by none of them."""

    item: str
    pieces: int

    def __post_init__(self) -> None:
        if self.pieces < 1:
            raise ValueError(f"{self.item}: a piece or more is made for the shelf")


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
    for_shelf: tuple[ForShelf, ...] = ()

    def __post_init__(self) -> None:
        held = [*(one.code for one in self.people), *(one.code for one in self.machines)]
        shelf = [one.item for one in self.for_shelf]
        for codes in (held, [one.code for one in self.batches], [one.item for one in self.products], shelf):
            if len(set(codes)) < len(codes):
                raise ValueError("people and machines, batches, products: each has a code of its own")

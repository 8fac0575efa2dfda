"""What everybody in the forge knows: hours, hands, machines, route cards, suppliers' terms and what is believed of them.

Nothing here is a true chance or a true minute; those stand in `truths` and no manager sees them. Figures of a route card
are what the card says. Units: see the package's head.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

DAY: Final = 1_440  # minutes of a day
WEEK: Final = 7
FAR: Final = 400  # days: no shop closes for longer


@dataclass(frozen=True, slots=True)
class Calendar:
    """When the shop is open.

    Attributes:
        weekdays: 0 for Monday to 6 for Sunday.
        opens: minute of the day.
        shuts: minute of the day; nothing is worked on in this minute or later.
        closed: numbers of days that fall on such a weekday and are holidays or a shutdown.
    """

    weekdays: frozenset[int]
    opens: int
    shuts: int
    closed: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if not self.weekdays or not self.weekdays <= set(range(WEEK)):
            raise ValueError("open on at least one of the weekdays 0 to 6")
        if not 0 <= self.opens < self.shuts <= DAY:
            raise ValueError("opens before it shuts, on the same day")

    def is_open(self, day: int) -> bool:
        """Say whether people work on a day."""
        return day % WEEK in self.weekdays and day not in self.closed

    def open_from(self, day: int) -> int:
        """Return the first open day at or after a day."""
        for later in range(day, day + FAR):
            if self.is_open(later):
                return later
        raise ValueError(f"the shop never opens again after day {day}")


@dataclass(frozen=True, slots=True)
class Carrier:
    """Comes on these weekdays, if the shop is open, and takes what was whole by `cut_off`, a minute of the day."""

    weekdays: frozenset[int]
    cut_off: int

    def takes(self, minute: int, calendar: Calendar) -> int:
        """Return the day on which something leaves that is whole at a minute, or before it in the same minute."""
        first = minute // DAY + (minute % DAY > self.cut_off)
        for day in range(first, first + FAR):
            if day % WEEK in self.weekdays and calendar.is_open(day):
                return day
        raise ValueError("the carrier never comes")


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody, the benches he or she can work at, and days off that were agreed before day 0."""

    name: str
    benches: frozenset[str]
    leave: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Work:
    """A step done by people.

    Attributes:
        bench: a kind of work; has no capacity of its own, machines and people have.
        minutes: work minutes per piece as the route card says.
        spread: standard deviation of the log of a run's minutes about the true mean; true, and known.
        set_up: work minutes to set up; only where `tooling` is not in on all `machines`, each time where it is empty.
        tooling: the set that must be in on all machines of the step; empty where none is changed.
        people: how many work on it together, for the whole of its minutes.
        machines: held together for the whole of it, set-up too.
        belief: pseudo-counts (good, bad) of the good rate where pieces are counted after this step, else None.
        uses: an item of which each piece takes one as the step begins.
    """

    bench: str
    minutes: float
    spread: float = 0.0
    set_up: float = 0.0
    tooling: str = ""
    people: int = 1
    machines: tuple[str, ...] = ()
    belief: tuple[float, float] | None = None
    uses: str | None = None

    def __post_init__(self) -> None:
        if self.tooling and not self.machines:
            raise ValueError("tooling is in on machines")
        if self.minutes <= 0 or self.set_up < 0 or self.spread < 0 or self.people < 1:
            raise ValueError("a step takes minutes of somebody")


@dataclass(frozen=True, slots=True)
class Soak:
    """A step in the oven; nobody stands by.

    Attributes:
        temperature: degrees; only runs of one temperature and soak share a load.
        soak: elapsed minutes at temperature.
        heat_up: elapsed minutes before; the longest of the load counts, also if the oven is still hot.
        share: of the oven per piece; a load comes to 1 at most.
    """

    temperature: int
    soak: int
    heat_up: int
    share: float

    def __post_init__(self) -> None:
        if self.soak < 1 or self.heat_up < 0 or not 0 < self.share <= 1:
            raise ValueError("a soak takes minutes and a share of the oven up to all of it")


@dataclass(frozen=True, slots=True)
class Cure:
    """A wait of elapsed minutes, nights and weekends too, that begins by itself as the step before ends."""

    minutes: int

    def __post_init__(self) -> None:
        if self.minutes < 1:
            raise ValueError("a cure takes minutes")


Step = Work | Soak | Cure


@dataclass(frozen=True, slots=True)
class Pattern:
    """A kind of tool: `route[k]` is its step k, `blank` the item a run of it starts from, its finished item its name."""

    name: str
    blank: str
    route: tuple[Step, ...]

    def __post_init__(self) -> None:
        if not self.route or not isinstance(self.route[0], Work):
            raise ValueError("a route begins with work")

    @property
    def most(self) -> int:
        """The largest run: one that the oven holds whole at every soak."""
        shares = [step.share for step in self.route if isinstance(step, Soak)]
        return int(1 / max(shares) + 1e-9) if shares else 10_000


@dataclass(frozen=True, slots=True)
class Supply:
    """A bought item: promised `lead` days after ordering at the soonest, sold by the `pack`; `sorted_` where some are bad."""

    item: str
    lead: int
    pack: int = 1
    sorted_: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """All of it. The beliefs are those of `laws`; the truths of a shop that follows the laws were drawn from them.

    Attributes:
        share: of the open minutes that is production: work minutes / share = open minutes. True, and known.
        unattended: whether the oven may run on after the shop shuts; if not, a load that would is not begun.
        weekly: pieces of each pattern asked for in a week of last year.
        sick: pseudo-counts (falls ill, does not) of an open day of somebody who is well.
        spells: chances that an illness lasts 1, 2, ... open days.
        breakdown: pseudo-counts (fails, does not) of an open day of a sound machine. The oven is one of them.
        repairs: chances that a repair takes 1, 2, ... open days.
        late: (days late, pseudo-count) of a delivery.
        bad: pseudo-counts (bad, good) of pieces bought of an item that is sorted as it comes.
        minutes_doubt: standard deviation of log(true mean minutes / minutes of the card), once for each step of a route.
    """

    calendar: Calendar
    carrier: Carrier
    share: float
    people: tuple[Person, ...]
    machines: tuple[str, ...]
    patterns: tuple[Pattern, ...]
    supplies: tuple[Supply, ...]
    unattended: bool = False
    weekly: Mapping[str, float] = field(default_factory=dict)
    sick: tuple[float, float] = (0.0, 1.0)
    spells: tuple[float, ...] = (1.0,)
    breakdown: tuple[float, float] = (0.0, 1.0)
    repairs: tuple[float, ...] = (1.0,)
    late: tuple[tuple[int, float], ...] = ((0, 1.0),)
    bad: tuple[float, float] = (0.0, 1.0)
    minutes_doubt: float = 0.0

    def pattern(self, name: str) -> Pattern:
        """Return the pattern of a name."""
        return next(one for one in self.patterns if one.name == name)

    def supply(self, item: str) -> Supply:
        """Return the terms of a bought item."""
        return next(one for one in self.supplies if one.item == item)


OVEN: Final = "oven"  # the one oven, as a machine that can fail; it is no machine of a work step

"""The week as it is proposed: which runs, who does which operation in which order, which pieces share an oven load."""

from dataclasses import dataclass

from orders.calc.dates.route import Step
from orders.calc.dates.sizing import Start


@dataclass(frozen=True, slots=True)
class Operation:
    """One step of one run as planned: who, on which machines, minutes to set up with a change of tooling, begin and end.

    `begins` and `ends` are minutes of work at mean times; `comes` the deliveries under way that it takes from, by number,
    `buys` the items that have to be bought for it; `worked` minutes are done already; `change` names the tooling that has
    to be put in; `why` what it waited for longest.
    """

    run: int
    step: Step
    people: tuple[str, ...]
    machines: tuple[str, ...]
    set_up: float
    begins: float
    ends: float
    comes: tuple[int, ...] = ()
    buys: tuple[str, ...] = ()
    worked: float = 0.0
    change: str = ""
    why: str = ""
    pinned: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """Runs, and groups of operations in the order they are begun; more than one in a group is an oven load together."""

    runs: tuple[Start, ...]
    groups: tuple[tuple[Operation, ...], ...]

    @property
    def operations(self) -> tuple[Operation, ...]:
        """All operations in the order they are begun."""
        return tuple(one for group in self.groups for one in group)

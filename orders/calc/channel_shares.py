"""Shares of an item kept for one kind of customer until a day, and what each kind may then be promised."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import accumulate

from orders.calc.available import ByDay, Commitment, Supply, steps
from orders.calc.pegging import Pegged, Recipe, Served, peg


@dataclass(frozen=True, slots=True)
class Share:
    """So many of an item kept for one channel, `until` and on that day; `taken` of them are already promised to it."""

    what: str
    channel: str
    qty: int
    until: int
    taken: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.taken <= self.qty:
            raise ValueError("of a share of 0 or more, none to all are taken")

    @property
    def left(self) -> int:
        """Pieces of it that nobody was promised."""
        return self.qty - self.taken

    def after(self, qty: int) -> "Share":
        """Return the share after its channel was promised so many: they are taken from it first, then from the rest."""
        return replace(self, taken=self.taken + min(qty, self.left))


@dataclass(frozen=True, slots=True)
class Kept:
    """What anybody may be promised, and beside it what each channel may be promised of its own share."""

    common: Pegged
    own: Mapping[tuple[str, str], ByDay]

    def of(self, what: str, channel: str | None = None) -> ByDay:
        """Return what can be promised of an item to a channel, or to one who has no share."""
        line, share = self.common.of(what), self.own.get((what, channel or ""))
        return line if share is None else line.plus(share)


def keep(
    supplies: Iterable[Supply],
    commitments: Iterable[Commitment],
    shares: Iterable[Share],
    recipes: Iterable[Recipe] = (),
    *,
    today: int,
    late_counts: bool = False,
) -> Kept:
    """Give what each channel can be promised when shares are kept from the others.

    What is left of a share is kept like something owed at once to one who stands behind all customers. While a share is
    in force it is kept from whatever day others ask for, also from days after its last: its channel may still take it
    before. The day after its last it is let go. What is scarce goes to the share that stands first.

    Args:
        supplies: as for pegging.peg.
        commitments: as there; what a channel was promised of its share is among them and in the share's `taken`.
        shares: at most one for each item and channel; in the order in which scarce pieces go to them.
        recipes: as for pegging.peg.
        today: the day of asking.
        late_counts: as for pegging.peg.

    Returns:
        Lines by item and channel. What all may have of an item and what each has of its own are different pieces: their
        sum is what could be promised without shares. With tools that share parts the sum of each tool is at most that.

    Raises:
        ValueError: two shares of an item for one channel, or a channel without a name.

    Source: none; shop practice.
    """
    in_force = [share for share in shares if today <= share.until]
    names = [(share.what, share.channel) for share in in_force]
    if len(set(names)) < len(names) or not all(channel for _, channel in names):
        raise ValueError("a channel has a name and one share of an item")
    wishes = [Commitment(None, share.left, 0, share.what) for share in in_force]
    pegged = peg(supplies, commitments, recipes, today=today, late_counts=late_counts, wishes=wishes)
    owed = len(pegged.served) - len(wishes)
    lines = [_line(served, today) for served in pegged.served[owed:]]
    common = Pegged(today, pegged.lines, pegged.served[:owed])
    return Kept(common, dict(zip(names, lines, strict=True)))


def _line(served: Served, today: int) -> ByDay:
    counts = {today: 0, **dict(served.pieces)}
    return steps(counts, accumulate(counts.values()))

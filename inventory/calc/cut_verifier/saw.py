"""One bar at the saw, cut by cut: squaring cut, piece, kerf, piece, kerf, end."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from inventory.calc.cut_problem import Buyable, CutBar, Problem, Stock


@dataclass(frozen=True, slots=True)
class Sawn:
    """A bar after the saw: `left` units behind the last cut, kept or not."""

    bar: Stock | Buyable
    pieces: tuple[int, ...]
    left: int
    remnant: bool

    @property
    def bought(self) -> bool:
        """Whether it has to be bought first."""
        return isinstance(self.bar, Buyable)

    @property
    def full(self) -> bool:
        """Whether a full bar is opened."""
        return not isinstance(self.bar, Stock) or self.bar.full

    @property
    def heat(self) -> tuple[bool, str]:
        """What tells its mill heat from others; all bars to buy are of one."""
        return (False, self.bar.heat) if isinstance(self.bar, Stock) else (True, "")

    @property
    def scrap(self) -> int:
        """Units that go into the bin; kerfs and trim not counted."""
        return 0 if self.remnant else self.left


def replay(problem: Problem, bar: Stock | Buyable, pieces: Sequence[int]) -> Sawn | str:
    """Cut one bar.

    Args:
        problem: for kerf, tail and piece lengths.
        bar: what lies on the saw.
        pieces: indexes of demand lines in the order of the saw, all of them known.

    Returns:
        The bar after the last cut, or one sentence why the saw cannot do it.

    Source: none; the rules are those of cut_problem, common practice at the saw.
    """
    rest = bar.length - bar.trim
    for number, index in enumerate(pieces, start=1):
        length = problem.pieces[index].length
        where = f"Bar {bar.name!r}: piece {number} (line {index}, {length} long)"
        if length > rest:
            return f"{where} does not fit, {max(rest, 0)} is left."
        rest -= length
        if not problem.tail_hold:
            rest = max(0, rest - problem.kerf)  # the blade takes all of a rest thinner than itself
        elif rest < problem.kerf + problem.tail_hold:
            return f"{where} leaves {rest}, less than a kerf and the {problem.tail_hold} the vice must hold."
        else:
            rest -= problem.kerf
    return Sawn(bar, tuple(pieces), rest, rest >= problem.min_remnant and rest > problem.tail_hold)


def differences(stated: CutBar, sawn: Sawn) -> Iterator[str]:
    """Say what a plan states of a bar that the saw would not leave.

    Args:
        stated: the bar in the plan.
        sawn: the same bar replayed.

    Returns:
        One sentence a difference.
    """
    if stated.left != sawn.left:
        yield f"Bar {stated.source!r}: {stated.left} is stated as left, the saw leaves {sawn.left}."
    if stated.remnant != sawn.remnant:
        kept = "a remnant" if sawn.remnant else "no remnant"
        yield f"Bar {stated.source!r}: the {sawn.left} left over is {kept}, the plan says otherwise."

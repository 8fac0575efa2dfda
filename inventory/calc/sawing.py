"""What one bar becomes at the saw, in whole nanometres: pieces, kerfs, trim, what is left, and what the tape finds off."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

MOST_PIECES: Final = 2_000  # No source: more than any bar a small forge saws gives


@dataclass(frozen=True, slots=True)
class Asked:
    """What is sawn from one bar.

    Args:
        bar_nm: its length before the saw, nm; 1 or more.
        kerf_nm: what one cut takes, nm; 0 or more.
        pieces: how many pieces, of whatever lengths, 0 to 2 000.
        pieces_nm: their lengths together, nm; 1 or more each where there are pieces.
        own_nm: a length for own tooling, nm; 0 for none.
        trim_nm: cut off a bad end first, nm; 0 for none.
        left_nm: taped lengths of the bars that are left, nm; empty where the rest is a scrap end or nothing.

    Raises:
        ValueError: a value out of range.
    """

    bar_nm: int
    kerf_nm: int
    pieces: int = 0
    pieces_nm: int = 0
    own_nm: int = 0
    trim_nm: int = 0
    left_nm: Sequence[int] = ()

    def __post_init__(self) -> None:
        numbers = (self.kerf_nm, self.pieces, self.pieces_nm, self.own_nm, self.trim_nm)
        if self.bar_nm < 1 or min(numbers) < 0 or min(self.left_nm, default=1) < 1:
            raise ValueError("lengths are whole nanometres from 0, a bar and what is left of it from 1")
        if self.pieces > MOST_PIECES or self.pieces_nm < self.pieces or (self.pieces_nm > 0 and not self.pieces):
            raise ValueError(f"0 to {MOST_PIECES} pieces, each with a length")

    @property
    def wanted_nm(self) -> int:
        """All that is to come off the bar, without the kerfs."""
        return self.pieces_nm + self.own_nm + self.trim_nm

    @property
    def parts(self) -> int:
        """How many parts are wanted."""
        return self.pieces + (self.own_nm > 0) + (self.trim_nm > 0)


@dataclass(frozen=True, slots=True)
class Sawn:
    """What became of the bar, nm; the parts are the bar exactly.

    `short_nm` is by how much the bar is too short, 0 where it fits; nothing else counts then. `difference_nm` is what
    the tape finds missing (positive) or too much (negative) when the rest was taped.
    """

    kerfs: int
    kerfs_nm: int
    scrap_nm: int
    left_nm: int
    difference_nm: int
    short_nm: int = 0


def saw(asked: Asked) -> Sawn:
    """Work out kerfs, scrap end and difference.

    Args:
        asked: what is sawn.

    Returns:
        n parts need n - 1 kerfs, and n where something is left. Where the rest is not taped it is a scrap end; a rest
        thinner than a kerf goes into the last cut.

    Raises:
        ValueError: never for a valid question.

    Source: none; each cut takes its kerf is shop practice.
    """
    rest = asked.bar_nm - asked.wanted_nm
    if asked.left_nm:
        kerfs = asked.parts + len(asked.left_nm) - 1
        left = sum(asked.left_nm)
        return Sawn(kerfs, kerfs * asked.kerf_nm, 0, left, rest - kerfs * asked.kerf_nm - left)
    inner = max(0, asked.parts - 1)
    least = inner * asked.kerf_nm
    if rest < least:
        return Sawn(inner, least, 0, 0, 0, short_nm=least - rest)
    scrap = rest - asked.parts * asked.kerf_nm
    if scrap > 0:
        return Sawn(asked.parts, asked.parts * asked.kerf_nm, scrap, 0, 0)
    return Sawn(inner if rest == least else asked.parts, rest, 0, 0, 0)


def how_many(bar_nm: int, piece_nm: int, kerf_nm: int, trim_nm: int = 0) -> int:
    """How many pieces a bar gives.

    Args:
        bar_nm: its length, nm; 0 or more.
        piece_nm: length of a piece, nm; 1 or more.
        kerf_nm: what one cut takes, nm; 0 or more.
        trim_nm: cut off a bad end first, nm; 0 for none; its own cut takes a kerf.

    Returns:
        The most pieces n with n pieces, n - 1 kerfs and the trim with its kerf in the bar; 0 where none fits.

    Raises:
        ValueError: a value out of range.

    Source: n = floor((L - trims + kerf) / (piece + kerf)), common practice at the saw, no source.
    """
    if bar_nm < 0 or piece_nm < 1 or kerf_nm < 0 or trim_nm < 0:
        raise ValueError("lengths are whole nanometres from 0, a piece from 1")
    usable = bar_nm - (trim_nm + kerf_nm if trim_nm else 0)
    return max(0, (usable + kerf_nm) // (piece_nm + kerf_nm))

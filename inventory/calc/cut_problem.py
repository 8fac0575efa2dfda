"""A cutting question and a plan that answers it, in whole units: no method, only what both solver and verifier read.

The rules that both follow:

* A bar starts with its squaring cut (`trim`, its kerf included), then piece, kerf, piece, kerf ... from that end.
* n pieces take n kerfs; the last piece needs none where it ends the bar, and a rest thinner than a kerf goes into the
  last cut. With `tail_hold` above 0 the saw must hold that much behind the last cut, so n pieces take n kerfs always.
* What is left after the last kerf is a remnant from `min_remnant` on and scrap below it. Trim and kerfs are not scrap.
* A bar without a piece is not touched: no trim, no scrap, no remnant.
* Never more pieces than asked for.

Source: none; common practice at the saw.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Order(StrEnum):
    """Which aims come before which."""

    ONE_PRICE = "one price"
    STRICT = "strict"


class Level(StrEnum):
    """An aim, always made as small as can be.

    SHORT pieces not cut (one level a due date, the earliest first). COST of bars to buy, minor units. LOSS scrap + a
    new remnant's, a handled bar's and an opened full bar's price, units. FULL full bars opened, bought ones among them.
    SCRAP units of length. REMNANTS new remnants. HANDLED bars sawn. LONGEST the longest new remnant, negative. PATTERNS
    different ways to cut a bar (bars alike in usable length, cut alike, are one). AGE sum of the age ranks of the bars
    sawn: the oldest bar on the rack has rank 0, bars of one age one rank; a bought bar has the rank after the youngest.
    """

    SHORT = "short"
    COST = "cost"
    LOSS = "loss"
    FULL = "full"
    SCRAP = "scrap"
    REMNANTS = "nrem"
    HANDLED = "used"
    LONGEST = "longest"
    PATTERNS = "patterns"
    AGE = "age"


LEVELS: Mapping[Order, Sequence[Level]] = {
    Order.ONE_PRICE: (Level.SHORT, Level.COST, Level.LOSS, Level.LONGEST, Level.PATTERNS, Level.AGE),
    Order.STRICT: (
        Level.SHORT,
        Level.COST,
        Level.FULL,
        Level.SCRAP,
        Level.REMNANTS,
        Level.HANDLED,
        Level.LONGEST,
        Level.PATTERNS,
        Level.AGE,
    ),
}


@dataclass(frozen=True, slots=True)
class Stock:
    """A bar or remnant on the rack.

    Args:
        name: unlike every other bar's.
        length: units; 1 or more.
        full: a full bar (True) or a remnant (False).
        trim: squaring cut at the first end with its kerf, units; 0 for none.
        heat: mill heat or lot; "" where unknown (all unknown are one).
        age: days on the rack; 0 or more.
    """

    name: str
    length: int
    full: bool
    trim: int = 0
    heat: str = ""
    age: int = 0


@dataclass(frozen=True, slots=True)
class Buyable:
    """A length that can be bought; bought bars are full bars and all of one mill heat of their own.

    Args:
        name: unlike every other length's and every bar's.
        length: units; 1 or more.
        price: of one bar, minor units; 0 or more.
        trim: squaring cut with its kerf, units; 0 for none.
        most: how many can be had; None for as many as wanted.
    """

    name: str
    length: int
    price: int
    trim: int = 0
    most: int | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A line of the demand.

    Args:
        length: units; 1 or more.
        count: pieces; 0 or more.
        due: any text that sorts by date (ISO 8601); "" sorts last: no date.
        run: pieces of one run come from one mill heat where the problem asks it; "" means this line is a run of its own.
    """

    length: int
    count: int
    due: str = ""
    run: str = ""


@dataclass(frozen=True, slots=True)
class Locked:
    """A bar whose cuts are settled: exactly these pieces, by index of the demand line, in this order."""

    stock: str
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Prices:
    """The one price of steel loss, units of length; scrap itself counts 1 a unit. Source: none, set by the shop."""

    remnant: int
    handled: int
    full: int


@dataclass(frozen=True, slots=True)
class Problem:
    """What to cut, from what.

    Args:
        stock: bars and remnants on the rack.
        pieces: the demand.
        kerf: one cut, units; 0 or more.
        min_remnant: the shortest rest worth keeping, units; 1 or more. A remnant must also be longer than `tail_hold`.
        prices: of the one-price loss.
        buyable: lengths that may be bought.
        tail_hold: what the vice holds behind the last cut, units; 0 for none.
        one_heat: pieces of one run from one mill heat.
        locked: cuts already settled.
        order: which aims come first.
        name: given back with the plan.

    Raises:
        ValueError: a value out of range, a name used twice, a lock on no bar or that does not fit or exceeds the demand.
    """

    stock: tuple[Stock, ...]
    pieces: tuple[Piece, ...]
    kerf: int
    min_remnant: int
    prices: Prices
    buyable: tuple[Buyable, ...] = ()
    tail_hold: int = 0
    one_heat: bool = False
    locked: tuple[Locked, ...] = ()
    order: Order = Order.ONE_PRICE
    name: str = ""

    def __post_init__(self) -> None:
        names = [bar.name for bar in self.stock] + [bar.name for bar in self.buyable]
        if len(set(names)) != len(names):
            raise ValueError("two bars have one name; give each bar and each buyable length a name of its own")
        if self.kerf < 0 or self.min_remnant < 1 or self.tail_hold < 0:
            raise ValueError("kerf and tail_hold are 0 or more, min_remnant is 1 or more")
        if min(self.prices.remnant, self.prices.handled, self.prices.full) < 0:
            raise ValueError("the prices of the loss are 0 or more")
        bars: tuple[Stock | Buyable, ...] = (*self.stock, *self.buyable)
        if any(bar.length < 1 or bar.trim < 0 for bar in bars) or any(bar.age < 0 for bar in self.stock):
            raise ValueError("a bar is 1 or longer; its trim and its age are 0 or more")
        if any(bar.price < 0 or (bar.most is not None and bar.most < 0) for bar in self.buyable):
            raise ValueError("a price is 0 or more; so is the number that can be had")
        if any(piece.length < 1 or piece.count < 0 for piece in self.pieces):
            raise ValueError("a piece is 1 or longer and is wanted 0 times or more")
        self._check_locks()

    def _check_locks(self) -> None:
        by_name = {bar.name: bar for bar in self.stock}
        cut = [0] * len(self.pieces)
        seen: set[str] = set()
        for lock in self.locked:
            if lock.stock not in by_name or lock.stock in seen:
                raise ValueError(f"the locked bar {lock.stock!r} is not in the stock, or is locked twice")
            seen.add(lock.stock)
            if any(not 0 <= index < len(self.pieces) for index in lock.pieces):
                raise ValueError(f"the locked bar {lock.stock!r} names a demand line that does not exist")
            if not fits(self, by_name[lock.stock], sum(self.pieces[i].length for i in lock.pieces), len(lock.pieces)):
                raise ValueError(f"the pieces locked on {lock.stock!r} do not fit that bar")
            for index in lock.pieces:
                cut[index] += 1
        if any(cut[i] > piece.count for i, piece in enumerate(self.pieces)):
            raise ValueError("more pieces are locked than the demand line wants")


def fits(problem: Problem, bar: Stock | Buyable, lengths: int, count: int) -> bool:
    """Whether pieces go on a bar.

    Args:
        problem: for kerf and tail.
        bar: the bar.
        lengths: sum of the piece lengths, units.
        count: how many pieces; 0 always fits.

    Returns:
        True where they fit.

    Source: none; common practice at the saw.
    """
    if count == 0:
        return True
    room = bar.length - bar.trim
    if problem.tail_hold:
        return lengths + count * problem.kerf + problem.tail_hold <= room
    return lengths + (count - 1) * problem.kerf <= room


@dataclass(frozen=True, slots=True)
class CutBar:
    """One bar of a plan.

    `source` is the name of the bar on the rack or of the buyable length; a buyable length may stand in many CutBars.
    `pieces` are indexes of demand lines in the order of the saw. `left` is what is left after the last cut, units,
    `remnant` whether that is kept.
    """

    source: str
    bought: bool
    pieces: tuple[int, ...]
    left: int
    remnant: bool


@dataclass(frozen=True, slots=True)
class Standing:
    """How a plan stands on one level: `value` reached, `bound` no plan can be under, `proven` that they are equal.

    `bound` and `value` hold with all levels before fixed at their values. `due` tells the SHORT levels apart.
    `bound` is None where nothing but the trivial was shown, as for the tie-breaks.
    """

    level: Level
    value: int
    bound: int | None
    proven: bool
    due: str = ""


@dataclass(frozen=True, slots=True)
class Dual:
    """Values of a dual solution for one level, so that somebody else can work the bound out anew.

    By weak duality: with any numbers `piece[i]` (worth of one piece of demand line i) and any `full` <= 0 (price of one
    full bar opened, 0 where that count is free), all over `scale`, no plan that cuts all demand and opens at most F
    full bars costs less than
    sum(count_i * piece_i) + F * full + sum over bars of min(0, least over the ways to cut that bar of
    (its cost - worth of its pieces - full if it is a full bar)).
    """

    level: Level
    piece: tuple[int, ...]
    scale: int
    full: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer: bars with their cuts, what could not be cut, and how good that is.

    `missing` gives pieces not cut, one number a demand line. `complete` is False where the time limit ended the search
    before every level was done. `seconds` is time used, `method` what found it, `duals` certificates where there are any.
    """

    bars: tuple[CutBar, ...]
    missing: tuple[int, ...]
    standings: tuple[Standing, ...]
    complete: bool
    seconds: float
    method: str
    duals: tuple[Dual, ...] = field(default=())

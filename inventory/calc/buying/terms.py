"""What a basket is made from: goods wanted, a supplier's terms, room and money."""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field

YEAR_DAYS = 365
SHELF_LIFE = "shelf life"
ABOUT_COSTS = frozenset({"price", "minimum", "freight", "money"})  # kinds of reasons that say what something costs


@dataclass(frozen=True, slots=True)
class Price:
    """What one unit bought costs from so many units bought on, minor units; it holds for all of them.

    A fraction of a minor unit is meant where a unit bought is a milligram or the like; lines are rounded, not prices.
    `bundle`: it holds only for whole times so many.
    """

    from_packs: int
    minor: float
    bundle: int = 1

    def __post_init__(self) -> None:
        if self.from_packs < 1 or self.minor < 0 or self.bundle < 1:
            raise ValueError("a price holds from 1 unit bought on, by 1 or more, and is 0 or more")

    def holds(self, packs: int) -> bool:
        """Return whether it is asked for so many units bought."""
        return self.from_packs <= packs and packs % self.bundle == 0


@dataclass(frozen=True, slots=True)
class Wanted:
    """One item of the supplier; quantities in the item's unit, whole.

    least: units to be ordered now so that the wanted service is kept; 0: not due yet.
    per_day: forecast use, units a day, 0 or more.
    left_days: days until it is due, 0 where it is.
    stands_days: days that what is there and on order lasts.
    prices: rising by quantity; none where no price is known.
    pack, bundle: units in one unit bought, and how many of those go together at the least.
    most: units that are sensible at the most (shelf life, room on the shelf), or None; `most_why` says which.
    stored_as: class of storage with a limit of the shop, or nothing; its units count against it one for one.
    mass_mg: of one unit bought, for carriage by mass; 0 where unknown.
    ends: last safe day without an order; what ends first has room and money first. None: not within a year.
    usual: units the shop always orders at once, or so many times of it; None: as is cheapest.
    lost: share of what is bought that nothing can be made of, as the ends of bars; 0 or more, below 1.
    """

    key: str
    least: int
    per_day: float
    left_days: float = 0.0
    stands_days: float = 0.0
    prices: tuple[Price, ...] = ()
    pack: int = 1
    bundle: int = 1
    most: int | None = None
    most_why: str = ""
    stored_as: str = ""
    mass_mg: int = 0
    ends: dt.date | None = None
    usual: int | None = None
    lost: float = 0.0

    def __post_init__(self) -> None:
        if self.least < 0 or self.per_day < 0 or self.pack < 1 or self.bundle < 1 or (self.most or 0) < 0:
            raise ValueError(f"{self.key}: units are 0 or more, packs and bundles 1 or more")
        starts = [price.from_packs for price in self.prices]
        if starts != sorted(set(starts)):
            raise ValueError(f"{self.key}: prices rise by quantity")
        if not 0 <= self.lost < 1:
            raise ValueError(f"{self.key}: the share lost is 0 or more and below 1")

    @property
    def step(self) -> int:
        """Return the units of the smallest quantity it is sold in."""
        return self.pack * self.bundle

    @property
    def spoils(self) -> bool:
        """Return whether `most` is what is used while it keeps."""
        return self.most_why == SHELF_LIFE

    def rounded(self, units: float) -> int:
        """Return the units of the fewest whole bundles that so many can be used of."""
        return self.whole(units / (1 - self.lost))

    def whole(self, units: float) -> int:
        """Return the units of the fewest whole bundles that hold so many."""
        return self.step * math.ceil(units / self.step - 1e-9)

    def useful(self, units: int) -> float:
        """Return how many of the units bought can be used."""
        return units * (1 - self.lost)

    def short(self, units: int) -> int:
        """Return how many of `least` are missing when so many units are bought."""
        return max(0, math.ceil(self.least - self.useful(units) - 1e-9))

    def grain(self, price: Price) -> int:
        """Return the units of which whole times are sold at this price."""
        return self.pack * math.lcm(self.bundle, price.bundle)

    def fits(self, units: float) -> int:
        """Return the units of the most whole bundles within so many."""
        return self.step * max(0, math.floor(units / self.step + 1e-9))

    def price(self, units: int) -> float | None:
        """Return what one unit bought costs when so many units are taken; the first price where none holds."""
        if not self.prices:
            return None
        packs = units // self.pack
        held = [price.minor for price in self.prices if price.holds(packs)]
        return held[-1] if held else self.prices[0].minor

    def priced(self, units: int) -> bool:
        """Return whether one of the prices holds for so many units."""
        return any(price.holds(units // self.pack) for price in self.prices)

    def value(self, units: int) -> int:
        """Return what so many units cost, minor units; 0 where no price is known."""
        price = self.price(units)
        return 0 if price is None else round(price * (units // self.pack))


@dataclass(frozen=True, slots=True)
class Carriage:
    """What carriage costs from a value or a mass of the order on; the last step reached holds."""

    minor: int
    from_minor: int = 0
    from_mass_mg: int = 0


@dataclass(frozen=True, slots=True)
class Terms:
    """A supplier's terms: no order below a value, carriage by steps, and what placing one order costs the shop.

    holding: what keeping stock costs a year, as a share of its value.
    cover_days: days bought for where no price is known.
    """

    minimum: int = 0
    carriage: tuple[Carriage, ...] = ()
    order_cost: int = 0
    holding: float = 0.2
    cover_days: int = 28

    def freight(self, value: int, mass_mg: int = 0) -> int:
        """Return what carriage of an order of this value and mass costs, minor units."""
        by_value = [one for one in self.carriage if not one.from_mass_mg and one.from_minor <= value]
        by_mass = [one for one in self.carriage if one.from_mass_mg and one.from_mass_mg <= mass_mg]
        last = max(by_value, key=lambda one: one.from_minor, default=None)
        heavy = max(by_mass, key=lambda one: one.from_mass_mg, default=None)
        return max((one.minor for one in (last, heavy) if one is not None), default=0)


@dataclass(frozen=True, slots=True)
class Limits:
    """Room left by class of storage, in the unit of its goods, and money that may be spent, minor units; None: enough."""

    room: Mapping[str, int] = field(default_factory=dict)
    money: int | None = None


@dataclass(frozen=True, slots=True)
class Why:
    """One reason: its kind, and its numbers by name."""

    kind: str
    facts: Mapping[str, int | float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Line:
    """So many units of an item, their value in minor units, days they last at forecast use, and the reasons in order."""

    key: str
    units: int
    value: int
    cover_days: float | None
    why: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class Basket:
    """What to order together; freight in minor units; `notes` are about the order as a whole."""

    lines: tuple[Line, ...]
    value: int
    freight: int
    notes: tuple[Why, ...] = ()

"""A basket as it is being made: units and reasons by item, and what it comes to."""

import math
from collections.abc import Mapping, Sequence
from typing import Final

from inventory.calc.buying.terms import YEAR_DAYS, Basket, Limits, Line, Terms, Wanted, Why

MOST_COVER: Final = 365  # days bought for at the most where more is bought than is due. No source


class Draft:
    """Units and reasons by item, in the order the goods were given."""

    def __init__(self, goods: Sequence[Wanted], terms: Terms, limits: Limits | None = None) -> None:
        self.goods = {one.key: one for one in goods}
        self.terms = terms
        self.limits = limits or Limits()
        self.units = dict.fromkeys(self.goods, 0)
        self.why: dict[str, list[Why]] = {key: [] for key in self.goods}
        self.notes: list[Why] = []
        self.value = 0
        self._mass_mg = 0

    def most(self, key: str) -> float:
        """Return the units that are sensible at the most, whole bundles.

        What is due and keeps for less than one bundle is bought by the one: the rest is thrown away.
        """
        one = self.goods[key]
        if one.most is None:
            return math.inf
        return float(one.step if self.wastes(key) else one.fits(one.most))

    def wastes(self, key: str) -> bool:
        """Return whether an item that is due keeps for less than the smallest quantity it is sold in."""
        one = self.goods[key]
        return one.least > 0 and one.most is not None and one.spoils and 0 < one.most < one.step

    def put(self, key: str, units: int, *why: Why) -> None:
        """Set the units of an item and add reasons."""
        one, before = self.goods[key], self.units[key]
        self.value += one.value(units) - one.value(before)
        self._mass_mg += one.mass_mg * (units // one.pack - before // one.pack)
        self.units[key] = units
        self.why[key] += why

    def room(self, units: Mapping[str, int], storage: str) -> float:
        """Return the room that is left in a class of storage beside these units."""
        if storage not in self.limits.room:
            return math.inf
        taken = sum(count for key, count in units.items() if self.goods[key].stored_as == storage)
        return max(0, self.limits.room[storage] - taken)

    def worth(self, units: Mapping[str, int]) -> int:
        """Return what these units cost without carriage, minor units."""
        return sum(one.value(units[key]) for key, one in self.goods.items())

    def carriage(self, units: Mapping[str, int]) -> int:
        """Return what carriage of these units costs, minor units."""
        mass = sum(one.mass_mg * (units[key] // one.pack) for key, one in self.goods.items())
        return self.terms.freight(self.worth(units), mass)

    @property
    def freight(self) -> int:
        """Return what carriage of the basket costs, minor units."""
        return self.terms.freight(self.value, self._mass_mg)

    @property
    def total(self) -> int:
        """Return what the basket costs with carriage, minor units."""
        return self.value + self.freight

    def total_of(self, key: str, units: int) -> int:
        """Return what the basket costs with carriage when so many units of an item are taken instead, minor units."""
        one, now = self.goods[key], self.units[key]
        value = self.value + one.value(units) - one.value(now)
        return value + self.terms.freight(value, self._mass_mg + one.mass_mg * ((units - now) // one.pack))

    def affords_of(self, key: str, units: int) -> bool:
        """Return whether the money reaches when so many units of an item are taken instead."""
        return self.limits.money is None or self.total_of(key, units) <= self.limits.money

    def affords(self, units: Mapping[str, int]) -> bool:
        """Return whether the money reaches for these units and their carriage."""
        return self.limits.money is None or self.worth(units) + self.carriage(units) <= self.limits.money

    @property
    def unpriced(self) -> bool:
        """Return whether something is in the basket whose price is not known."""
        return any(units and not self.goods[key].prices for key, units in self.units.items())

    def cover(self, key: str, units: int) -> float:
        """Return the days that an item lasts when so many units are bought."""
        one = self.goods[key]
        return one.stands_days + one.useful(units) / one.per_day if one.per_day else math.inf

    def keeping(self, key: str, units: int) -> float:
        """Return what keeping costs, until they are used, the units beyond those in the basket, minor units.

        What the units in the basket cost less through a price that is reached by it is taken off.
        """
        one, now = self.goods[key], self.units[key]
        if not one.per_day:
            return math.inf
        price, before = one.price(units) or 0, (one.price(now) or 0) if now else 0
        days = (self.cover(key, now) + self.cover(key, units)) / 2
        kept = self.terms.holding * price * (units - now) / one.pack * days / YEAR_DAYS
        return kept - (before - price if before else 0) * now / one.pack

    def basket(self) -> Basket:
        """Return it as it stands."""
        lines = []
        for key, units in self.units.items():
            one = self.goods[key]
            if units or (one.least and self.why[key]):
                lasts = self.cover(key, units) if one.per_day else None
                lines.append(Line(key, units, one.value(units), lasts, tuple(self.why[key])))
        ordered = any(self.units.values())
        return Basket(tuple(lines), self.value, self.freight if ordered else 0, tuple(self.notes))

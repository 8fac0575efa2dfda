"""Gas bottles as they are read: how many of each gas are full, part and empty, what is paid on them, what may be kept."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc.bottles import content
from inventory.models import Bottle, Holding, Item
from shop.shared.models import Shop


@dataclass(frozen=True, slots=True)
class Gas:
    """A gas with its bottles, and what the book says of the gas itself, in the item's unit."""

    item: Item
    bottles: Sequence[Bottle]
    book: int

    @property
    def counted(self) -> int:
        """Return what the bottles hold by their quarters."""
        return sum(content(self.item.issue_per_buy, one.quarters) for one in self.bottles)

    @property
    def deposits(self) -> int:
        """Return what is paid on bottles that are here, minor units."""
        return sum(one.deposit_minor for one in self.bottles)

    def number(self, state: str) -> int:
        """Return how many are in a state."""
        return sum(one.state == state for one in self.bottles)

    @property
    def room_taken(self) -> int:
        """Return what the bottles count for where gas is kept inside: each as full, the empty ones too."""
        return self.item.issue_per_buy * len(self.bottles)


def gases() -> list[Gas]:
    """Return every gas that is bought by the bottle, with the bottles that are here, the one in use first."""
    items = Item.objects.filter(active=True, buy_unit="bottle").order_by("code")
    here = Bottle.objects.exclude(state=Bottle.State.BACK).select_related("item", "supplier")
    held = list(here.order_by("-in_use", "-quarters", "number"))
    found = []
    for item in items:
        there = Holding.objects.filter(item=item, place__inside=True, on_hand__gt=0)
        found.append(Gas(item, [one for one in held if one.item_id == item.pk], sum(one.on_hand for one in there)))
    return found


def lp_gas_inside(found: Sequence[Gas]) -> int:
    """Return how much LP-gas the bottles here count for, milligrams; empty ones count as full."""
    return sum(one.room_taken for one in found if one.item.stored_as == Item.StoredAs.LP_GAS)


def over_limit(shop: Shop, found: Sequence[Gas]) -> bool:
    """Say whether more LP-gas stands here than the shop's limit."""
    return lp_gas_inside(found) > shop.lp_gas_most_mg

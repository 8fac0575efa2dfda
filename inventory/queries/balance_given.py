"""The mass that one stage of a melt hands on to the next: bars to blanks, blanks to heads, heads to tools."""

from collections import Counter, defaultdict

from django.db.models import F, Sum

from inventory.calc.shares import share
from inventory.models import CutPiece, LotParent, Melt


class GivenOn:
    """The mass that one stage gave to the next, by item; filled by the stage that gives, asked by the one that gets."""

    def __init__(self, melt: Melt) -> None:
        self._went: dict[int, dict[int, int]] = defaultdict(dict)
        parents = LotParent.objects.filter(parent__melt=melt, child__entry__reversed_by=None).order_by()
        parents = parents.filter(child__entry__kind__in=("run started", "hafted", "made up"))
        rows = parents.values_list("parent__item_id", "child__item_id").annotate(qty=Sum("quantity"))
        for parent, child, qty in rows:
            self._went[parent][child] = int(qty)
        sawn = CutPiece.objects.filter(cut__bar__lot__melt=melt, cut__entry__reversed_by=None).order_by()
        lengths = sawn.values_list("cut__bar__lot__item_id", "blank_id").annotate(nm=Sum(F("count") * F("piece_nm")))
        self._nm: dict[int, dict[int, int]] = defaultdict(dict)
        for bar_item, blank, nm in lengths:
            self._nm[bar_item][blank] = int(nm)
        self._mg: Counter[int] = Counter()

    def give(self, bar_item: int, mass_mg: int) -> None:
        """Share the mass that went into blanks among them by length."""
        lengths = self._nm.get(bar_item, {})
        if lengths:
            self._mg.update(dict(zip(lengths, share(mass_mg, list(lengths.values())), strict=True)))

    def give_on(self, item: int, mass_mg: int, qty: int) -> None:
        """Share the mass of pieces that went into something among what came of them; the rest came to nothing known."""
        into = self._went.get(item, {})
        rest = max(0, qty - sum(into.values()))
        if into:
            shares = share(mass_mg, [*into.values(), rest])
            self._mg.update(dict(zip(into, shares, strict=False)))

    def of(self, item: int) -> int:
        """Return the mass that went into an item's pieces."""
        return self._mg[item]

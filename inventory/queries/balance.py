"""Where the steel of a melt is: received against rack, blanks, heads, tools, sent, kerf, scrap ends and losses.

Bars are balanced by length, blanks by count; the received mass is split over the parts so that they are the whole. What
is booked back by a reversal counts as never booked. Heads and tools are counted: nobody weighs them yet.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from inventory.calc import balance, steel
from inventory.calc.balance import Basis
from inventory.calc.shares import share
from inventory.models import Bar, Cut, DeliveryLine, Entry, Item, Melt, Movement
from inventory.queries.findings import section_of
from shop.shared import shop_row

FROM_OUTSIDE = ("supplier", "moved in")
INSIDE = {
    "rack": "on the rack", "door": "at the Door, not checked", "bin": "in bins", "shelf": "on the shelf",
    "floor": "on the floor", "oven": "in the oven", "cure": "curing", "inspection": "at inspection",
    "seconds": "seconds", "not to be used": "not to be used", "out and coming back": "out and coming back",
}  # fmt: skip
OUTSIDE = {
    "customer": "sent to customers", "scrap": "scrap ends, trim and scrap", "swarf and scale": "kerf",
    "own use": "own tooling and own use", "count difference": "missing by tape or count", "supplier": "sent back",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a balance: quantity in the stage's unit, mass in mg where it is known, and how it is known."""

    words: str
    qty: int
    mass_mg: int | None
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """One item of the melt: what came in and what became of it; quantities and masses of both are equal."""

    item: Item
    came: Sequence[Row]
    parts: Sequence[Row]

    @property
    def came_qty(self) -> int:
        """Return how much came in."""
        return sum(row.qty for row in self.came)

    @property
    def came_mg(self) -> int | None:
        """Return the mass that came in, where all of it is known."""
        masses = [row.mass_mg for row in self.came]
        return None if None in masses else sum(mass or 0 for mass in masses)


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the scale showed of the melt's deliveries beside what was worked out for the same bars, mg."""

    scale_mg: int
    computed_mg: int
    step_mg: int


Flow = Counter[tuple[str, str, str]]


def of_melt(melt: Melt) -> list[Stage]:
    """Return the balance of a melt, bars first, then what was made of them."""
    flows = _flows(melt)
    items = Item.objects.select_related("section", "grade").in_bulk(flows)
    blanks = _Blanks(melt)
    order = {kind: place for place, kind in enumerate(("bar", "blank", "head", "tool"))}
    in_order = sorted(items.values(), key=lambda one: (order.get(one.kind, 9), one.code))
    return [
        _bars(item, flows[item.pk], melt, blanks)
        if item.kind == Item.Kind.BAR
        else _pieces(item, flows[item.pk], blanks)
        for item in in_order
    ]


def weighed(melt: Melt) -> Weighed | None:
    """Return what was weighed of a melt beside what was worked out; nothing where nothing was weighed."""
    lines = DeliveryLine.objects.filter(melt=melt, scale_mass_mg__isnull=False, computed_mass_mg__isnull=False)
    found = lines.exclude(delivery__state="reversed").aggregate(
        scale=Sum("scale_mass_mg"), made=Sum("computed_mass_mg")
    )
    if found["scale"] is None:
        return None
    return Weighed(int(found["scale"]), int(found["made"]), shop_row.the_shop().scale_step_mg)


def _flows(melt: Melt) -> Mapping[int, Flow]:
    """Return what went from where to where by which kind of entry, for each item; a reversal takes its entry back."""
    lines = Movement.objects.filter(lot__melt=melt).order_by().values_list(
        "item_id", "entry__kind", "entry__reverses__kind", "from_place__kind", "to_place__kind"
    )  # fmt: skip
    flows: dict[int, Flow] = defaultdict(Counter)
    for item, kind, undone, source, target, qty in lines.annotate(qty=Sum("qty")):
        if kind == Entry.Kind.REVERSAL:
            flows[item][undone, target, source] -= int(qty)
        else:
            flows[item][kind, source, target] += int(qty)
    return flows


def _sum(flow: Flow, wanted: Callable[[str, str, str], bool]) -> int:
    return sum(qty for key, qty in flow.items() if wanted(*key))


def _net(flow: Flow, place: str, *, without: Sequence[str] = ()) -> int:
    """Return what went to a kind of place less what came from it."""
    went = _sum(flow, lambda kind, _source, target: target == place and kind not in without)
    return went - _sum(flow, lambda kind, source, _target: source == place and kind not in without)


class _Blanks:
    """The mass that bars gave to blanks, by blank; filled by the bars, asked by the blanks."""

    def __init__(self, melt: Melt) -> None:
        cuts = Cut.objects.filter(bar__lot__melt=melt, entry__reversed_by=None, blank__isnull=False).order_by()
        lengths = cuts.values_list("bar__lot__item_id", "blank_id").annotate(nm=Sum("pieces_nm"))
        self._nm: dict[int, dict[int, int]] = defaultdict(dict)
        for bar_item, blank, nm in lengths:
            self._nm[bar_item][blank] = int(nm)
        self._mg: Counter[int] = Counter()

    def give(self, bar_item: int, mass_mg: int) -> None:
        """Share the mass that went into blanks among them by length."""
        lengths = self._nm.get(bar_item, {})
        if lengths:
            self._mg.update(dict(zip(lengths, share(mass_mg, list(lengths.values())), strict=True)))

    def of(self, blank: int) -> int:
        """Return the mass that went into a blank's pieces."""
        return self._mg[blank]


def _bars(item: Item, flow: Flow, melt: Melt, blanks: _Blanks) -> Stage:
    corrected = _net(flow, "count difference") - _net(flow, "count difference", without=("correction",))
    arrived = _sum(
        flow, lambda kind, source, _: source in FROM_OUTSIDE or (kind, source) == ("paint lost", "worked up")
    )
    came_nm = arrived - corrected
    came_mg, basis = _mass_that_came(item, melt)
    parts = {words: _net(flow, place) for place, words in INSIDE.items()}
    parts |= {
        words: _net(flow, place, without=("correction",)) for place, words in OUTSIDE.items() if place != "supplier"
    }
    parts["sent back"] = _sum(flow, lambda _kind, _source, target: target == "supplier")
    in_blanks = _net(flow, "worked up", without=("paint lost",))
    parts["in blanks"] = in_blanks
    parts["paint lost, grade unknown"] = _sum(
        flow, lambda kind, _, target: (kind, target) == ("paint lost", "worked up")
    )
    split = balance.split(came_mg, parts)
    blanks.give(item.pk, sum(part.mass_mg for part in split.parts if part.name == "in blanks"))
    rows = [Row(part.name, part.qty, part.mass_mg, Basis.WORKED_OUT) for part in split.parts]
    return Stage(item, [Row("received", came_nm, came_mg, basis)], rows)


def _mass_that_came(item: Item, melt: Melt) -> tuple[int, str]:
    """Return the mass of the bars that came, each as weighed or worked out for its taped length."""
    came = Bar.objects.filter(lot__item=item, lot__melt=melt, lot__entry__reversed_by=None).select_related("section")
    kinds = (Entry.Kind.DELIVERY, Entry.Kind.MOVE_IN, Entry.Kind.PAINT_LOST)
    density = item.grade.density_ug_per_cm3 if item.grade else steel.DENSITY_UG_PER_CM3
    mass, scale = 0, set()
    for bar in came.filter(lot__entry__kind__in=kinds):
        scale.add(bar.mass_mg is not None)
        mass += (
            bar.mass_mg if bar.mass_mg is not None else steel.mass_mg(section_of(bar.section), bar.length_nm, density)
        )
    if scale == {True}:
        return mass, Basis.MEASURED
    return mass, Basis.MIXED if True in scale else Basis.WORKED_OUT


def _pieces(item: Item, flow: Flow, blanks: _Blanks) -> Stage:
    made = _sum(flow, lambda kind, source, _: source == "worked up" and kind in ("cut", "made up"))
    bought = _sum(flow, lambda _kind, source, _target: source in FROM_OUTSIDE)
    other = _sum(flow, lambda kind, source, _: source == "customer" and kind == "return")
    came = [Row("sawn" if item.kind == Item.Kind.BLANK else "made up", made, _made_mg(item, blanks), Basis.WORKED_OUT)]
    came.append(Row("moved in or bought", bought, _each_mg(item, bought), Basis.WORKED_OUT))
    came = [row for row in came if row.qty]
    parts = {words: _net(flow, place) for place, words in {**INSIDE, **OUTSIDE}.items() if place != "supplier"}
    parts["sent back"] = _sum(flow, lambda _kind, _source, target: target == "supplier")
    parts["went into what was made"] = _sum(flow, lambda kind, _, target: target == "worked up" and kind != "cut")
    masses = [row.mass_mg for row in came]
    known = None if None in masses else sum(mass or 0 for mass in masses)
    if known is None or other:
        return Stage(item, came, [Row(words, qty, None) for words, qty in parts.items() if qty])
    split = balance.split(known, parts)
    return Stage(item, came, [Row(part.name, part.qty, part.mass_mg, Basis.WORKED_OUT) for part in split.parts])


def _made_mg(item: Item, blanks: _Blanks) -> int | None:
    return blanks.of(item.pk) if item.kind == Item.Kind.BLANK else None


def _each_mg(item: Item, qty: int) -> int | None:
    if item.kind != Item.Kind.BLANK or item.section is None or item.grade is None or not item.blank_length_nm:
        return None
    each = steel.mass_mg(section_of(item.section), item.blank_length_nm, item.grade.density_ug_per_cm3)
    return each * qty

"""Where the steel of a melt is: received against rack, blanks, heads, tools, sent, kerf, scrap ends and losses.

Bars are balanced by length, blanks by count; the received mass is split over the parts so that they are the whole. What
is booked back by a reversal counts as never booked. Heads and tools are counted, and have the mass of their blanks less
what the pattern loses to scale, eye slug and grinding: learned from weighed heads once there are twenty, marked so.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from inventory.calc import balance, steel
from inventory.calc.balance import Basis, Discrepancy, Part
from inventory.models import Bar, DeliveryLine, Entry, Item, Melt, Movement
from inventory.queries import weight_kept
from inventory.queries.balance_given import GivenOn
from inventory.queries.findings import section_of
from shop.shared import shop_row

BAR, BLANK = Item.Kind.BAR, Item.Kind.BLANK
FROM_OUTSIDE = ("supplier", "moved in")
MADE = ("cut", "made up", "run started", "hafted")
PARTED = ("cut", "run split", "oven")  # part of a lot becomes a lot of its own: nothing is made
SAWN, IN_BLANKS = "sawn", "in blanks"
MADE_OF_BLANKS = (Item.Kind.HEAD, Item.Kind.TOOL)
STARTED, FITTED, WENT_INTO = "started", "made up", "went into what was made"
LOST_ON_THE_WAY = "scale, eye slug and grinding"
MISSING, FOUND_MORE = "missing by tape or count", "found more by tape or count"
INSIDE = {
    "rack": "on the rack", "door": "at the Door, not checked", "bin": "in bins", "shelf": "on the shelf",
    "floor": "on the floor", "oven": "in the oven", "cure": "curing", "inspection": "at inspection",
    "seconds": "seconds", "not to be used": "not to be used", "out and coming back": "out and coming back",
}  # fmt: skip
OUTSIDE = {
    "customer": "sent to customers", "scrap": "scrap ends, trim and scrap", "swarf and scale": "kerf",
    "own use": "own tooling and own use", "count difference": MISSING, "supplier": "sent back",
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
class Sheet:
    """The whole melt by mass, its stages laid together; the rows are what was received, to the milligram."""

    received_mg: int
    rows: Sequence[Row]


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the scale showed of the melt's deliveries beside what was worked out for the same bars, mg."""

    scale_mg: int
    computed_mg: int
    step_mg: int
    off: Discrepancy


Flow = Counter[tuple[str, str, str]]


def of_melt(melt: Melt) -> list[Stage]:
    """Return the balance of a melt, bars first, then what was made of them."""
    flows = _flows(melt)
    items = Item.objects.select_related("section", "grade", "pattern").in_bulk(flows)
    blanks = GivenOn(melt)
    order = {kind: place for place, kind in enumerate(("bar", "blank", "head", "tool"))}
    in_order = sorted(items.values(), key=lambda one: (order.get(one.kind, 9), one.code))
    stages = [
        _bars(item, flows[item.pk], melt, blanks)
        if item.kind == Item.Kind.BAR
        else _pieces(item, flows[item.pk], blanks)
        for item in in_order
    ]
    return [stage for stage in stages if stage.came_qty or stage.parts]


def whole(stages: Sequence[Stage]) -> Sheet | None:
    """Return the melt as one sheet by mass; nothing where no mass is known.

    Blanks stand where they are instead of under the bars they came from, and so do heads and tools. What went into
    something whose mass is not known stands in one row.
    """
    known = [
        stage for stage in stages if stage.came_mg is not None and stage.item.kind in (BAR, BLANK, *MADE_OF_BLANKS)
    ]
    sawn = sum(row.mass_mg or 0 for stage in known for row in stage.came if row.words == SAWN)
    made = sum(row.mass_mg or 0 for stage in known for row in stage.came if row.words in (STARTED, FITTED))
    received = sum(stage.came_mg or 0 for stage in known) - sawn - made
    masses = [_by_words(stage.parts) for stage in known]
    if not received:
        return None
    rows = balance.together(masses, {IN_BLANKS: sawn, WENT_INTO: made})
    return Sheet(received, [Row(words, 0, mass_mg, Basis.WORKED_OUT) for words, mass_mg in rows.items()])


def _by_words(rows: Sequence[Row]) -> dict[str, int]:
    masses: Counter[str] = Counter()
    for row in rows:
        masses[row.words] += row.mass_mg or 0
    return dict(masses)


def weighed(melt: Melt) -> Weighed | None:
    """Return what was weighed of a melt beside what was worked out; nothing where nothing was weighed."""
    lines = DeliveryLine.objects.filter(melt=melt, scale_mass_mg__isnull=False, computed_mass_mg__isnull=False)
    found = list(lines.exclude(delivery__state="reversed"))
    if not found:
        return None
    shop = shop_row.the_shop()
    scale, computed = sum(one.scale_mass_mg or 0 for one in found), sum(one.computed_mass_mg or 0 for one in found)
    tape = sum((one.bars or 0) * shop.tape_error_nm * (one.computed_mass_mg or 0) // one.qty for one in found)
    off = balance.discrepancy(scale, computed, step_mg=shop.scale_step_mg * len(found), tape_mg=tape)
    return Weighed(scale, computed, shop.scale_step_mg, off)


def _flows(melt: Melt) -> Mapping[int, Flow]:
    """Return what went from where to where by which kind of entry, for each item; a reversal takes its entry back."""
    lines = Movement.objects.filter(lot__melt=melt).order_by().values_list(
        "item_id", "lot__entry__kind", "entry__kind", "entry__reverses__kind", "from_place__kind", "to_place__kind"
    )  # fmt: skip
    flows: dict[int, Flow] = defaultdict(Counter)
    for item, origin, booked, undone, source, target, qty in lines.annotate(qty=Sum("qty")):
        # A rest was never received: where its length is put right, the tape at the saw was wrong.
        kind = Entry.Kind.COUNT if (booked, origin) == (Entry.Kind.CORRECTION, Entry.Kind.CUT) else booked
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


def _bars(item: Item, flow: Flow, melt: Melt, blanks: GivenOn) -> Stage:
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
    parts[IN_BLANKS] = in_blanks
    parts["paint lost, grade unknown"] = _sum(
        flow, lambda kind, _, target: (kind, target) == ("paint lost", "worked up")
    )
    split = balance.split(came_mg, parts)
    blanks.give(item.pk, sum(part.mass_mg for part in split.parts if part.name == IN_BLANKS))
    return Stage(item, [Row("received", came_nm, came_mg, basis)], _rows(split.parts))


def _rows(parts: Sequence[Part]) -> list[Row]:
    return [Row(_named(part.name, part.qty), part.qty, part.mass_mg, Basis.WORKED_OUT) for part in parts]


def _named(words: str, qty: int) -> str:
    return FOUND_MORE if words == MISSING and qty < 0 else words


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


def _pieces(item: Item, flow: Flow, blanks: GivenOn) -> Stage:
    made = _sum(flow, lambda kind, source, _: source == "worked up" and kind in MADE)
    bought = _sum(flow, lambda _kind, source, _target: source in FROM_OUTSIDE)
    first = {BLANK: SAWN, Item.Kind.HEAD: STARTED}.get(Item.Kind(item.kind), FITTED)
    masses = {first: (made, _made_mg(item, blanks, made)), "moved in or bought": (bought, _each_mg(item, bought))}
    came = [
        Row(words, qty, mass_mg, "" if mass_mg is None else Basis.WORKED_OUT)
        for words, (qty, mass_mg) in masses.items()
        if qty
    ]
    parts = {words: _net(flow, place) for place, words in {**INSIDE, **OUTSIDE}.items() if place != "supplier"}
    parts["sent back"] = _sum(flow, lambda _kind, _source, target: target == "supplier")
    parts[WENT_INTO] = _sum(flow, lambda kind, _, target: target == "worked up" and kind not in PARTED)
    known = [row.mass_mg for row in came]
    if not came or None in known:  # found by a count, or of no known weight: they can only be counted
        return Stage(item, came, [Row(_named(words, qty), qty, None) for words, qty in parts.items() if qty])
    rows = _with_loss(item, _rows(balance.split(sum(mass or 0 for mass in known), parts).parts))
    for row in rows:
        if row.words == WENT_INTO:
            blanks.give_on(item.pk, row.mass_mg or 0, row.qty)
    return Stage(item, came, rows)


FINISHED = ("on the shelf", "in bins", "curing", "seconds", "out and coming back", "sent to customers", WENT_INTO)


def _with_loss(item: Item, rows: list[Row]) -> list[Row]:
    """Take scale, eye slug and grinding off the heads that are through; what is still forged has the mass of its blank."""
    if item.kind != Item.Kind.HEAD or item.pattern is None:
        return rows
    loss = weight_kept.loss(item.pattern)
    ppm = loss.ppm if loss else item.pattern.loss_ppm
    kept, lost = [], 0
    for row in rows:
        off = round((row.mass_mg or 0) * ppm / 1_000_000) if row.words in FINISHED else 0
        lost += off
        kept.append(Row(row.words, row.qty, (row.mass_mg or 0) - off, row.basis))
    return [*kept, Row(LOST_ON_THE_WAY, 0, lost, Basis.WORKED_OUT)] if lost else kept


def _made_mg(item: Item, blanks: GivenOn, made: int) -> int | None:
    if item.kind == BLANK:
        return blanks.of(item.pk)
    return blanks.of(item.pk) or None if made and item.kind in MADE_OF_BLANKS else None


def _each_mg(item: Item, qty: int) -> int | None:
    if item.kind != Item.Kind.BLANK or item.section is None or item.grade is None or not item.blank_length_nm:
        return None
    each = steel.mass_mg(section_of(item.section), item.blank_length_nm, item.grade.density_ug_per_cm3)
    return each * qty

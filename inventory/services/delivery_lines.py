"""Reading the lines of a delivery as they were typed into what will be booked; every field that is wrong is named."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from inventory.calc import steel
from inventory.calc.shares import difference_ppm, share
from inventory.models import Item, Melt, Place, PurchaseOrder, PurchaseOrderLine, Section
from inventory.services import catalogue, reading, steel_items
from inventory.services.delivery_paper import Paper, PaperLine, paper
from inventory.services.reading import BarLength
from shop.access.actor import Actor
from shop.shared import shop_row
from shop.shared.errors import Invalid, Refusal
from shop.shared.units import money_exponent, parse_mass, parse_money, plain_number

MOST_LINES = 200
CERTIFICATE = ("", "to come", "none")
WEIGHED_BY = ("own scale", "supplier's ticket")
T = TypeVar("T")

__all__ = ["Paper", "PaperLine", "ReadLine", "ReadyLine", "mass_of", "paper", "read", "read_each"]


@dataclass(frozen=True, slots=True)
class ReadyLine:
    """One line as it will be booked; bars are empty for goods that are no bars."""

    typed: str
    item: Item
    qty: int
    place: Place
    order_line: PurchaseOrderLine | None = None
    melt: Melt | None = None
    bars: Sequence[BarLength] = field(default_factory=tuple)
    measured: bool = True
    masses_mg: Sequence[int] = field(default_factory=tuple)
    scale_mass_mg: int | None = None
    scale_typed: str = ""
    weighed_by: str = ""
    cost_minor: int | None = None
    damage: str = ""
    certificate_awaited: bool = False

    @property
    def computed_mass_mg(self) -> int | None:
        """Return the mass worked out from section, lengths and density."""
        return sum(self.masses_mg) if self.bars else None

    @property
    def off_ppm(self) -> int | None:
        """Return how far the scale is off the computed mass."""
        if self.scale_mass_mg is None or self.computed_mass_mg is None:
            return None
        return difference_ppm(self.scale_mass_mg, self.computed_mass_mg)


class _Fields:
    """Collects what is wrong with the fields of one line, so that all of it is said at once."""

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix
        self.wrong: dict[str, str] = {}

    def read(self, action: Callable[[], T]) -> T | None:
        try:
            return action()
        except Refusal as refusal:
            for name, sentence in (refusal.fields or {"item": refusal.sentence}).items():
                self.wrong.setdefault(f"{self.prefix}.{name}", sentence)
            return None


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line of the paper as read: what would be booked, or what is wrong with which of its fields."""

    number: int
    ready: ReadyLine | None
    wrong: Mapping[str, str]


def read_each(typed: Paper, order: PurchaseOrder | None, *, at: dt.datetime, by: Actor) -> list[ReadLine]:
    """Read every line that is not empty; grades, sections, melts and bar items that are new are made on the way."""
    if len(typed.lines) > MOST_LINES:
        raise Invalid.field("lines", f"Lines: more than {MOST_LINES} are written; book the rest as a second delivery.")
    read = []
    for number, line in enumerate(typed.lines):
        if line.empty:
            continue
        checked = _Fields(f"lines.{number}")
        made = checked.read(lambda line=line, checked=checked: _line(line, order, checked, at=at, by=by))  # type: ignore[misc]
        read.append(ReadLine(number, made, checked.wrong))
    return read


def read(typed: Paper, order: PurchaseOrder | None, *, at: dt.datetime, by: Actor) -> list[ReadyLine]:
    """Read every line, or say of all of them at once what is wrong."""
    lines = read_each(typed, order, at=at, by=by)
    wrong = {name: sentence for line in lines for name, sentence in line.wrong.items()}
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    ready = _with_freight([line.ready for line in lines if line.ready is not None], typed.freight)
    if not ready:
        raise Invalid.field("lines", "Lines: nothing is written yet; write at least one line of what came.")
    return ready


def _with_freight(ready: Sequence[ReadyLine], freight: str) -> list[ReadyLine]:
    """Add what freight and cuts cost to the lines of steel, each its share by mass: the landed cost."""
    cost = _cost(freight, field="freight")
    if not cost:
        return list(ready)
    masses = [line.scale_mass_mg or line.computed_mass_mg or 0 for line in ready]
    if not any(masses):
        raise Invalid.field(
            "freight", "Freight: nothing of steel is written to share it over; add it to the line's cost."
        )
    shares = share(cost, masses)
    return [
        replace(line, cost_minor=(line.cost_minor or 0) + part) if part else line
        for line, part in zip(ready, shares, strict=True)
    ]


def _line(
    line: PaperLine, order: PurchaseOrder | None, checked: _Fields, *, at: dt.datetime, by: Actor
) -> ReadyLine | None:
    ordered = checked.read(lambda: _order_line(line, order))
    item = checked.read(lambda: _item(line, ordered, at=at, by=by))
    cost = checked.read(lambda: _cost(line.cost))
    if item is None or checked.wrong:
        return None
    if ordered is not None and ordered.item_id != item.pk:
        raise Invalid.field(
            "order_line",
            f"Order line {ordered.number} asks for {ordered.item.code}, not {item.code}; "
            "read the tag again, or receive it without the order line.",
        )
    melt = checked.read(lambda: _melt(line, item))
    made = _steel(line, item, ordered, melt, cost, checked) if item.kind == Item.Kind.BAR else None
    if item.kind != Item.Kind.BAR:
        made = _goods(line, item, ordered, melt, cost, checked)
    return None if checked.wrong else made


def _order_line(line: PaperLine, order: PurchaseOrder | None) -> PurchaseOrderLine | None:
    if not line.order_line.strip():
        return None
    found = None
    number = plain_number(line.order_line.strip())
    if order is not None and number is not None:
        found = order.lines.select_related("item__grade", "item__section").filter(number=number).first()
    if found is None:
        raise Invalid.field(
            "order_line", f"Order line {line.order_line.strip()[:10]!r} is not on this purchase order; leave it empty."
        )
    return found


def _item(line: PaperLine, ordered: PurchaseOrderLine | None, *, at: dt.datetime, by: Actor) -> Item:
    if line.item.strip():
        found = Item.objects.select_related("grade", "section").filter(code__iexact=line.item.strip()).first()
        if found is None:
            raise Invalid.field("item", f"Item: {line.item.strip()[:30]!r} is not in the book; choose one that is.")
        return found
    if line.grade.strip() or line.size.strip():
        grade = steel_items.grade(line.grade, new=line.new_grade == "yes")
        section = steel_items.section(line.shape, line.size, line.width)
        return steel_items.bar_item(grade, section, at=at, by=by)
    if ordered is not None:
        return ordered.item
    raise Invalid.field("item", "Item: say what came, as an item or as grade, shape and size of steel.")


def _melt(line: PaperLine, item: Item) -> Melt | None:
    if item.kind not in (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD):
        return None
    if not line.heat_number.strip():
        raise Invalid.field("heat_number", "Mill heat number: copy it from the tag, or write unknown.")
    grade = item.grade or steel_items.grade(line.grade)
    return catalogue.melt(grade=grade, heat_number=line.heat_number, mill=line.mill)


def _steel(
    line: PaperLine,
    item: Item,
    ordered: PurchaseOrderLine | None,
    melt: Melt | None,
    cost: int | None,
    checked: _Fields,
) -> ReadyLine | None:
    # A count without lengths is what is known at the lorry: the bars wait at the door to be measured.
    counted = not line.unit and reading.bar_count(line.bars) is not None
    measured = line.measured != "no" and not counted
    bars = checked.read(lambda: _bars(line, ordered, measured=measured))
    scale = checked.read(lambda: _scale(line))
    place = checked.read(lambda: _place(line, "RACK") if measured else catalogue.place("DOOR"))
    awaited = checked.read(lambda: _awaited(line))
    if bars is None or scale is None or place is None or awaited is None or item.section is None or item.grade is None:
        return None
    return ReadyLine(
        typed=line.bars.strip()[:300],
        item=item,
        qty=sum(bar.nm for bar in bars),
        place=place,
        order_line=ordered,
        melt=melt,
        bars=bars,
        measured=measured,
        masses_mg=[mass_of(item.section, bar.nm, item.grade.density_ug_per_cm3) for bar in bars],
        scale_mass_mg=scale[0],
        scale_typed=scale[1],
        weighed_by=line.weighed_by if scale[0] else "",
        cost_minor=cost,
        damage=line.damage.strip()[:300],
        certificate_awaited=awaited,
    )


def _awaited(line: PaperLine) -> bool:
    if line.certificate not in CERTIFICATE:
        raise Invalid.field("certificate", "Certificate: choose to come, none, or leave it open.")
    return line.certificate == "to come"


def mass_of(section: Section, length_nm: int, density: int) -> int:
    """Return the mass of a length of bar, worked out and not weighed."""
    shape = steel.Section(steel.Shape(section.shape), section.size_nm, section.width_nm)
    return steel.mass_mg(shape, length_nm, density)


def _bars(line: PaperLine, ordered: PurchaseOrderLine | None, *, measured: bool) -> Sequence[BarLength]:
    if line.unit not in reading.UNITS:
        raise Invalid.field("unit", f"Unit: {line.unit[:10]!r} is none of ft, in, m, cm and mm; choose one.")
    count = None if measured else reading.bar_count(line.bars)
    if count is None:
        return reading.bar_list(line.bars, unit=line.unit or None)
    if not 1 <= count <= reading.MOST_BARS:
        raise Invalid.field("bars", f"Bars: {count} is out of range; 1 to {reading.MOST_BARS} bars would work.")
    if ordered is None or not ordered.bars:
        raise Invalid.field("bars", f"Bars: write the length on the supplier's paper too, such as {count} @ 20 ft.")
    return [BarLength(ordered.qty // ordered.bars, "as ordered, not measured")] * count


def _scale(line: PaperLine) -> tuple[int | None, str]:
    if not line.scale.strip():
        return None, ""
    if line.weighed_by not in WEIGHED_BY:
        raise Invalid.field("weighed_by", "Weighed by: choose own scale or supplier's ticket beside the weight.")
    mass = parse_mass(line.scale, field="scale")
    return mass.mg, mass.typed


def _goods(
    line: PaperLine,
    item: Item,
    ordered: PurchaseOrderLine | None,
    melt: Melt | None,
    cost: int | None,
    checked: _Fields,
) -> ReadyLine | None:
    amount = checked.read(lambda: reading.quantity(line.quantity, item))
    place = checked.read(lambda: _place(line, catalogue.HOME[Item.Kind(item.kind)]))
    if amount is None or place is None:
        return None
    return ReadyLine(amount.typed, item, amount.qty, place, order_line=ordered, melt=melt, cost_minor=cost)


def _place(line: PaperLine, usual: str) -> Place:
    place = catalogue.place(line.place.strip().upper() or usual)
    if not place.inside:
        raise Invalid.field("place", f"Place: {place.name} is outside the shop; choose a rack, bin or shelf.")
    return place


def _cost(typed: str, *, field: str = "cost") -> int | None:
    if not typed.strip():
        return None
    return parse_money(typed, money_exponent(shop_row.the_shop().currency), field=field).minor

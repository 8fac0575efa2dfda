"""What stood in the shop before the book: items, and stock with or without a known mill heat, from lines of a table."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from inventory.calc.shares import share
from inventory.models import BAR_ALPHABET, Bar, Entry, Grade, Item, Lot, Melt, Place
from inventory.services import arriving, catalogue, delivery_lines, purchasing, reading, steel_items
from inventory.services.arriving import Arrival, BarFacts
from inventory.services.ledger import Locks, Stamp
from shop.shared import shop_row, transactions
from shop.shared.errors import Invalid
from shop.shared.tables import Row
from shop.shared.units import money_exponent, parse_length, parse_mass, parse_money, parse_whole

ITEM_COLUMNS = (
    "code", "name", "kind", "unit", "buy unit", "per buy unit", "grade", "shape", "size", "width", "blank length",
    "eye size", "shipped weight", "retail price", "dealer price", "reorder point", "reorder quantity", "lead days",
    "supplier", "caution", "made from",
)  # fmt: skip
ITEM_NEEDED = ("code", "name", "kind")
STOCK_COLUMNS = (
    "item", "grade", "shape", "size", "width", "quantity", "place", "step", "mill heat number", "mill", "bar number",
    "measured", "quality", "cost",
)  # fmt: skip
STOCK_NEEDED = ("quantity",)
ENTRY_LINES = 5_000  # a movement's line number is a small integer
STEEL = (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD)


@dataclass(slots=True)
class BarNumbers:
    """The bar numbers that a table has used so far, so that none is painted twice."""

    used: set[str] = field(default_factory=set)

    def take(self, typed: str) -> str:
        """Return a bar number that is free, or refuse it."""
        number = typed.strip().upper()
        if len(number) > 4 or not set(number) <= set(BAR_ALPHABET):
            raise Invalid.field(
                "bar number", f"Bar number: {number[:10]!r} must be 1 to 4 letters or figures without O, 0, I, 1."
            )
        if number and (number in self.used or Bar.objects.filter(number=number).exists()):
            raise Invalid.field("bar number", f"Bar number: {number} is used already; paint another on this end.")
        self.used.add(number)
        return number


def money(row: Row, column: str) -> int | None:
    """Read an amount in the shop's currency; nothing where nothing is typed."""
    if not row.get(column):
        return None
    return parse_money(row.get(column), money_exponent(shop_row.the_shop().currency), field=column).minor


def whole(row: Row, column: str, *, least: int = 0) -> int | None:
    """Read a whole number; nothing where nothing is typed."""
    return parse_whole(row.get(column), column, least=least) if row.get(column) else None


def item_named(row: Row, column: str = "item") -> Item:
    """Return the item a line names by its code."""
    code = row.get(column)
    found = Item.objects.select_related("grade", "section").filter(code__iexact=code).first()
    if found is None:
        raise Invalid.field(
            column, f"{column.capitalize()}: {code[:30]!r} is not in the book; move in the items first."
        )
    return found


def add_item(row: Row, *, stamp: Stamp) -> str:
    """Add the item of a line; return what was made."""
    kind = row.get("kind").lower()
    if kind not in Item.Kind.values:
        raise Invalid.field("kind", f"Kind: {row.get('kind')[:20]!r} is none of {', '.join(Item.Kind.values)}.")
    grade = steel_items.grade(row.get("grade"), new=True) if row.get("grade") else None
    section = steel_items.section(row.get("shape"), row.get("size"), row.get("width")) if row.get("size") else None
    unit = _unit(row, kind)
    item = Item(kind=kind, unit=unit, buy_unit=row.get("buy unit")[:20], issue_per_buy=1)
    supplier = row.get("supplier")
    made = catalogue.add_item(
        at=stamp.at,
        by=stamp.by,
        code=row.get("code").upper(),
        name=_short(row, "name", 120),
        kind=kind,
        unit=unit,
        buy_unit=_short(row, "buy unit", 20),
        issue_per_buy=whole(row, "per buy unit", least=1) or 1,
        grade=grade,
        section=section,
        blank_length_nm=parse_length(row.get("blank length"), field="blank length").nm
        if row.get("blank length")
        else None,
        eye_size=_short(row, "eye size", 20),
        shipped_mass_mg=parse_mass(row.get("shipped weight"), field="shipped weight").mg
        if row.get("shipped weight")
        else None,
        retail_minor=money(row, "retail price"),
        dealer_minor=money(row, "dealer price"),
        reorder_point=_amount(row, "reorder point", item, allow_zero=True),
        reorder_quantity=_amount(row, "reorder quantity", item),
        lead_days=whole(row, "lead days"),
        supplier=purchasing.supplier_named(supplier, at=stamp.at, by=stamp.by) if supplier else None,
        caution=_short(row, "caution", 300),
    )
    return f"{made.kind} {made.code}, {made.name}"


def _unit(row: Row, kind: str) -> str:
    words = {"": "", "piece": "piece", "pieces": "piece", "lb": "mg", "kg": "mg", "g": "mg", "oz": "mg", "mg": "mg",
             "gal": "ul", "l": "ul", "ml": "ul", "qt": "ul", "ul": "ul", "nm": "nm"}  # fmt: skip
    unit = words.get(row.get("unit").lower())
    if unit is None:
        raise Invalid.field("unit", f"Unit: {row.get('unit')[:10]!r} is none of piece, lb, kg, gal and L; choose one.")
    return unit or ("nm" if kind == Item.Kind.BAR else "piece")


def _amount(row: Row, column: str, item: Item, *, allow_zero: bool = False) -> int | None:
    if not row.get(column):
        return None
    if item.unit == Item.Unit.NM:
        return parse_length(row.get(column), field=column, allow_zero=allow_zero).nm
    return reading.quantity(row.get(column), item, field=column, allow_zero=allow_zero).qty


def _short(row: Row, column: str, most: int) -> str:
    text = row.get(column)
    if len(text) > most:
        raise Invalid.field(
            column, f"{column.capitalize()}: {len(text)} characters are written; up to {most} would work."
        )
    return text


def set_parts(row: Row, *, stamp: Stamp) -> str:
    """Say what a tool is made from: `1 H-CP2 + 1 HD-14 + 2 W-1`; the parts may stand further down the table."""
    parts: dict[Item, int] = {}
    for typed in row.get("made from").split("+"):
        count, _, code = typed.strip().rpartition(" ")
        part = Item.objects.filter(code__iexact=code.strip()).first()
        if part is None:
            raise Invalid.field(
                "made from", f"Made from: {code[:30]!r} is no item; write it as 1 H-CP2 + 1 HD-14 + 2 W-1."
            )
        parts[part] = parse_whole(count or "1", "made from", most=1000)
    tool = Item.objects.get(code=row.get("code").upper())
    catalogue.set_recipe(tool, parts, at=stamp.at, by=stamp.by)
    return f"made from {row.get('made from')}"


def stock(row: Row, numbers: BarNumbers, *, stamp: Stamp) -> tuple[list[Arrival], str]:
    """Read a line of opening stock into what will come in, and what to say about it."""
    item = _stock_item(row, stamp)
    quality = _quality(row)
    step = whole(row, "step") or 0
    place = _place(row, item, step, quality)
    melt = _melt(row, item)
    if item.kind == Item.Kind.BAR:
        arrivals = _bars(row, item, place, melt, numbers)
        said = f"{len(arrivals)} bar{'s' * (len(arrivals) > 1)} of {item.code}"
    else:
        amount = reading.quantity(row.get("quantity"), item)
        arrivals = [
            Arrival(item, amount.qty, place, melt=melt, step=step, cost_minor=money(row, "cost"), quality=quality)
        ]
        said = f"{amount.typed} of {item.code}"
    return arrivals, f"{said} at {place.name}{f', step {step}' if step else ''}{_heat_said(melt)}"


def _heat_said(melt: Melt | None) -> str:
    if melt is None:
        return ""
    return f", mill heat {melt.heat_number}" if melt.known else ", mill heat unknown"


def _stock_item(row: Row, stamp: Stamp) -> Item:
    if row.get("item"):
        return item_named(row)
    if not row.get("size"):
        raise Invalid.field("item", "Item: write its code, or grade, shape and size of a bar.")
    grade = steel_items.grade(row.get("grade"), new=True)
    section = steel_items.section(row.get("shape"), row.get("size"), row.get("width"))
    return steel_items.bar_item(grade, section, at=stamp.at, by=stamp.by)


def _quality(row: Row) -> str:
    quality = row.get("quality").lower() or Lot.Quality.FIRST
    if quality not in Lot.Quality.values:
        raise Invalid.field("quality", f"Quality: {quality[:20]!r} is neither first nor second; choose one.")
    return quality


def _place(row: Row, item: Item, step: int, quality: str) -> Place:
    usual = "FLOOR" if step else catalogue.HOME[Item.Kind(item.kind)]
    if item.kind == Item.Kind.BAR and row.get("measured").lower() in ("no", "n"):
        usual = "DOOR"
    if quality == Lot.Quality.SECOND:
        usual = "SECONDS"
    place = catalogue.place(row.get("place").upper() or usual)
    if not place.inside:
        raise Invalid.field("place", f"Place: {place.name} is outside the shop; choose a place inside.")
    if step and place.kind != Place.Kind.FLOOR:
        raise Invalid.field("step", "Step: only pieces on the floor stand at a step; leave it empty or the place.")
    if quality == Lot.Quality.SECOND and place.sellable:
        raise Invalid.field("place", "Place: seconds stand under SECONDS, or they would be sold as firsts.")
    return place


def _melt(row: Row, item: Item) -> Melt | None:
    number = row.get("mill heat number")
    if item.kind not in STEEL:
        if number and row.get("grade"):
            return catalogue.melt(grade=_grade(row, item), heat_number=number, mill=row.get("mill"))
        return None
    if not number:
        raise Invalid.field("mill heat number", "Mill heat number: copy it from the paint or tag, or write unknown.")
    return catalogue.melt(grade=_grade(row, item), heat_number=number, mill=row.get("mill"))


def _grade(row: Row, item: Item) -> Grade:
    if item.grade is not None:
        return item.grade
    if not row.get("grade"):
        raise Invalid.field("grade", f"Grade: {item.code} has none in the book; write what steel it is.")
    return steel_items.grade(row.get("grade"), new=True)


def _bars(row: Row, item: Item, place: Place, melt: Melt | None, numbers: BarNumbers) -> list[Arrival]:
    bars = reading.bar_list(row.get("quantity"), field="quantity")
    if row.get("bar number") and len(bars) > 1:
        raise Invalid.field("bar number", f"Bar number: {len(bars)} bars cannot share one; give each its own line.")
    if item.section is None or item.grade is None:
        raise RuntimeError("A bar item has a grade and a section.")
    measured = place.kind != Place.Kind.DOOR
    cost = money(row, "cost")
    costs: list[int] | list[None] = [None] * len(bars) if cost is None else share(cost, [bar.nm for bar in bars])
    arrivals = []
    for bar, part in zip(bars, costs, strict=True):
        facts = BarFacts(
            section=item.section, typed=bar.typed, measured=measured, number=numbers.take(row.get("bar number"))
        )
        mass = delivery_lines.mass_of(item.section, bar.nm, item.grade.density_ug_per_cm3)
        arrivals.append(
            Arrival(item, bar.nm, place, melt=melt, bar=facts, cost_minor=part, mass_mg=mass, basis="worked out")
        )
    return arrivals


def bring_in(arrivals: Sequence[Arrival], *, locks: Locks, stamp: Stamp) -> list[Entry]:
    """Bring opening stock in, so many lots in an entry."""
    transactions.assert_open()
    source = catalogue.place("MOVE-IN")
    entries = []
    for first in range(0, len(arrivals), ENTRY_LINES):
        part = arrivals[first : first + ENTRY_LINES]
        entry, _ = arriving.arrive(Entry.Kind.MOVE_IN, part, source=source, locks=locks, stamp=stamp)
        entries.append(entry)
    return entries

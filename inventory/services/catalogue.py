"""Items, places, grades, sections, recipes: what the book is about."""

import datetime as dt
import re
from collections.abc import Mapping
from typing import Any

from django.db.models import F

from inventory.models import AllocationPart, Grade, Item, ItemStock, Melt, Movement, Place, RecipePart, Section
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

# A code must not be taken for a date, a number or a formula by a spreadsheet, so it starts with a letter.
CODE = re.compile(r"[A-Z][A-Z0-9]*(?:[-.][A-Z0-9]+)*")
MOST_SHELF_DAYS = 10_000
MOST = 9_000_000_000_000_000  # keeps sums of many lots inside 64 bits

STANDARD_PLACES = (
    ("RACK", "Rack", Place.Kind.RACK),
    ("DOOR", "Door, not yet checked", Place.Kind.DOOR),
    ("BIN", "Bins", Place.Kind.BIN),
    ("SHELF", "Shelf", Place.Kind.SHELF),
    ("FLOOR", "Floor", Place.Kind.FLOOR),
    ("OVEN", "Oven", Place.Kind.OVEN),
    ("CURE", "Curing", Place.Kind.CURE),
    ("INSPECT", "Inspection", Place.Kind.INSPECTION),
    ("SECONDS", "Seconds", Place.Kind.SECONDS),
    ("NOT-USED", "Not to be used", Place.Kind.NOT_TO_BE_USED),
    ("OUT", "Out and coming back", Place.Kind.OUT),
    ("SUPPLIER", "Supplier", Place.Kind.SUPPLIER),
    ("CUSTOMER", "Customer", Place.Kind.CUSTOMER),
    ("SCRAP", "Scrap", Place.Kind.SCRAP),
    ("SWARF", "Swarf and scale", Place.Kind.SWARF),
    ("OWN-USE", "Own use", Place.Kind.OWN_USE),
    ("WORKED-UP", "Worked up", Place.Kind.WORKED_UP),
    ("DIFFERENCE", "Count difference", Place.Kind.DIFFERENCE),
    ("MOVE-IN", "Moved in", Place.Kind.MOVE_IN),
)

HOME = {
    Item.Kind.BAR: "RACK",
    Item.Kind.BLANK: "BIN",
    Item.Kind.HEAD: "SHELF",
    Item.Kind.HANDLE: "BIN",
    Item.Kind.CONSUMABLE: "SHELF",
    Item.Kind.TOOL: "SHELF",
}


def ensure_places() -> None:
    """Make the places that every shop has; those that exist stay as they are."""
    transactions.assert_open()
    Place.objects.bulk_create(
        [
            Place(code=code, name=name, kind=kind, inside=kind in Place.INSIDE_ALL, sellable=kind in Place.SELLABLE)
            for code, name, kind in STANDARD_PLACES
        ],
        ignore_conflicts=True,
    )


def place(code: str) -> Place:
    """Return a place by its code."""
    found = Place.objects.filter(code=code).first()
    if found is None:
        sentence = f"There is no place {code[:20]!r}; choose one of the shop's places."
        raise NotFound(sentence, {"place": sentence})
    return found


def add_place(*, code: str, name: str, kind: str, at: dt.datetime, by: Actor) -> Place:
    """Add a rack slot, bin or shelf of the shop's own."""
    transactions.assert_open()
    check_code(code)
    if kind not in ("rack", "bin", "shelf"):
        raise Invalid.field("kind", "A new place is a rack, a bin or a shelf.")
    if Place.objects.filter(code=code).exists():
        raise Invalid.field("code", f"Place {code} exists already; choose another code.")
    made = Place.objects.create(code=code, name=name or code, kind=kind, inside=True, sellable=True)
    audit.write(at=at, by=by.label, action="place added", subject=f"place {code}", after={"name": name, "kind": kind})
    return made


def add_item(*, at: dt.datetime, by: Actor, **facts: Any) -> Item:
    """Add an item; its stock row comes with it."""
    transactions.assert_open()
    item = Item(**facts)
    if item.kind == Item.Kind.BAR:
        item.unit = Item.Unit.NM
    item.unit = item.unit or Item.Unit.PIECE
    _check_item(item)
    if Item.objects.filter(code=item.code).exists():
        raise Invalid.field("code", f"Item {item.code} exists already; choose another code.")
    item.save(force_insert=True)
    ItemStock.objects.create(item=item, changed_at=at)
    audit.write(at=at, by=by.label, action="item added", subject=f"item {item.code}", after={"name": item.name})
    return item


CHANGEABLE = frozenset(
    {
        "name",
        "buy_unit",
        "issue_per_buy",
        "eye_size",
        "shipped_mass_mg",
        "retail_minor",
        "dealer_minor",
        "reorder_point",
        "reorder_quantity",
        "lead_days",
        "counted",
        "service_percent",
        "shelf_life_days",
        "most_kept",
        "stored_as",
        "supplier",
        "safety_sheet",
        "caution",
        "active",
    }
)


def change_item(item: Item, *, at: dt.datetime, by: Actor, **facts: Any) -> Item:
    """Change what may change about an item; its code, kind and unit never do."""
    transactions.assert_open()
    unknown = set(facts) - CHANGEABLE
    if unknown:
        raise Invalid.field(min(unknown), f"{min(unknown)} of an item cannot be changed; choose another field.")
    before = {name: _plain(getattr(item, name)) for name in facts}
    for name, value in facts.items():
        setattr(item, name, value)
    _check_item(item)
    item.save()
    ItemStock.objects.filter(pk=item.pk).update(version=F("version") + 1, changed_at=at)
    after = {name: _plain(getattr(item, name)) for name in facts}
    audit.write(at=at, by=by.label, action="item changed", subject=f"item {item.code}", before=before, after=after)
    return item


def set_recipe(tool: Item, parts: Mapping[Item, int], *, at: dt.datetime, by: Actor) -> None:
    """Say what goes into one tool; refused while parts are set aside for it, whose share would change."""
    transactions.assert_open()
    if tool.kind != Item.Kind.TOOL:
        raise Invalid.field("tool", f"{tool.code} is a {tool.kind}; only a tool is made up from parts.")
    for part, quantity in parts.items():
        if part.kind in (Item.Kind.TOOL, Item.Kind.BAR) or quantity < 1:
            raise Invalid.field(
                "parts", f"{part.code} × {quantity} cannot go into a tool; use whole parts, no tools and no bars."
            )
    used = AllocationPart.objects.filter(open=True, item__used_in__tool=tool).exists()
    if used and RecipePart.objects.filter(tool=tool).exists():
        raise Invalid.field(
            "parts", f"Parts are set aside for {tool.code}; change what it is made of when they are sent."
        )
    eyes = {part.eye_size for part in parts if part.eye_size}
    if len(eyes) > 1:
        raise Invalid.field("parts", f"The eyes differ ({', '.join(sorted(eyes))}); head and handle need the same eye.")
    RecipePart.objects.filter(tool=tool).delete()
    RecipePart.objects.bulk_create(
        [RecipePart(tool=tool, part=part, quantity=quantity) for part, quantity in parts.items()]
    )
    audit.write(
        at=at,
        by=by.label,
        action="recipe set",
        subject=f"item {tool.code}",
        after={p.code: q for p, q in parts.items()},
    )


def grade(code: str, *, density_ug_per_cm3: int, note: str = "") -> Grade:
    """Return the grade, made where it is new."""
    transactions.assert_open()
    made, _ = Grade.objects.get_or_create(code=code, defaults={"density_ug_per_cm3": density_ug_per_cm3, "note": note})
    return made


def section(shape: str, size_nm: int, *, typed: str, width_nm: int = 0) -> Section:
    """Return the section, made where it is new."""
    transactions.assert_open()
    made, _ = Section.objects.get_or_create(shape=shape, size_nm=size_nm, width_nm=width_nm, defaults={"typed": typed})
    return made


def melt(*, grade: Grade, heat_number: str, mill: str = "") -> Melt:
    """Return the melt of a mill heat number, made where it is new; "unknown" or nothing is the grade's unknown melt."""
    transactions.assert_open()
    text = heat_number.strip()
    if text.lower() in ("", "unknown"):
        made, _ = Melt.objects.get_or_create(grade=grade, known=False, defaults={"heat_number": "unknown"})
        return made
    if len(text) > 40 or not text.isprintable():
        raise Invalid.field("heat_number", "The mill heat number is longer than 40 signs; copy it from the tag.")
    made, fresh = Melt.objects.get_or_create(mill=mill.strip(), heat_number=text, known=True, defaults={"grade": grade})
    if not fresh and made.grade_id != grade.pk:
        raise Invalid.field(
            "heat_number",
            f"Mill heat {text} is {made.grade.code} in the book, not {grade.code}; read the tag again.",
        )
    return made


def check_code(code: str, *, longest: int = 30) -> None:
    """Refuse a code that is no code: capitals, figures, - and . only, a letter first."""
    if not CODE.fullmatch(code) or len(code) > longest:
        raise Invalid.field(
            "code",
            f"The code {code[:40]!r} must begin with a letter: capitals, figures, - and . only, {longest} at most.",
        )


def _check_item(item: Item) -> None:
    check_code(item.code)
    if not item.name.strip():
        raise Invalid.field("name", "The name is empty; write what the item is called in the shop.")
    if item.kind not in Item.Kind.values:
        raise Invalid.field("kind", f"The kind {item.kind!r} is none of {', '.join(Item.Kind.values)}.")
    if item.unit not in Item.Unit.values or (item.kind == Item.Kind.BAR) != (item.unit == Item.Unit.NM):
        raise Invalid.field("unit", f"The unit {item.unit!r} does not go with a {item.kind}.")
    if item.kind == Item.Kind.BAR and (item.grade is None or item.section is None):
        raise Invalid.field("grade", "A bar needs its grade and its section.")
    for name in (
        "issue_per_buy",
        "retail_minor",
        "dealer_minor",
        "reorder_point",
        "reorder_quantity",
        "shipped_mass_mg",
        "most_kept",
    ):
        value = getattr(item, name)
        least = 1 if name in ("issue_per_buy", "reorder_quantity", "most_kept") else 0
        if value is not None and not least <= value <= MOST:
            raise Invalid.field(name, f"{name.replace('_', ' ')} is {value}; write a number from {least} up.")

    _check_keeping(item)


def _check_keeping(item: Item) -> None:
    if item.counted not in ("", *Item.Counted.values):
        raise Invalid.field("counted", f"Counted: {item.counted!r} is none of {', '.join(Item.Counted.values)}.")
    if item.stored_as not in ("", *Item.StoredAs.values):
        raise Invalid.field("stored_as", f"Stored as: {item.stored_as!r} is none of {', '.join(Item.StoredAs.values)}.")
    if item.service_percent is not None and not 50 <= item.service_percent <= 99:
        raise Invalid.field("service_percent", "Not dry in: 50 to 99 of 100 reorders would work.")
    if item.shelf_life_days is not None and not 1 <= item.shelf_life_days <= MOST_SHELF_DAYS:
        raise Invalid.field("shelf_life_days", f"Keeps: 1 to {MOST_SHELF_DAYS} days would work.")


def _plain(value: object) -> object:
    return value if isinstance(value, str | int | bool | None) else str(value)


def for_sale(item: Item) -> bool:
    """Return whether an item may be ordered: active, and not a bar, which is cut and not sold."""
    return item.active and item.kind != Item.Kind.BAR


def moved(item: Item) -> bool:
    """Return whether the book has any line of an item."""
    return Movement.objects.filter(item=item).exists()

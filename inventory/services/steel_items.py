"""Bars are kept as one item for each grade and section; the item is made when such steel first comes."""

import datetime as dt
import re

from django.db import IntegrityError, transaction

from inventory.calc import steel
from inventory.models import Grade, Item, Section
from inventory.services import catalogue
from shop.access.actor import Actor
from shop.shared import transactions
from shop.shared.errors import Invalid
from shop.shared.units import NM_PER_INCH, NM_PER_MM, NM_PER_SIXTY_FOURTH, as_taped, parse_length

SHAPE_LETTERS = {"round": "RD", "square": "SQ", "hexagon": "HX", "octagon": "OC", "flat": "FL"}
_SHAPE_WORDS = {
    **{shape: shape for shape in SHAPE_LETTERS},
    **{letters.lower(): shape for shape, letters in SHAPE_LETTERS.items()},
    "rd": "round", "rnd": "round", "sq": "square", "hex": "hexagon", "oct": "octagon",
}  # fmt: skip


def grade(code: str, *, new: bool = False, field: str = "grade") -> Grade:
    """Return a grade by its code, however it is capitalised; make it where it is said to be new."""
    text = code.strip()
    found = Grade.objects.filter(code__iexact=text).first()
    if found:
        return found
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 ./+-]{0,19}", text):
        raise Invalid.field(field, f"Grade: {text[:40]!r} is no grade; letters and figures such as 1045 would work.")
    if not new:
        known = ", ".join(Grade.objects.order_by("code").values_list("code", flat=True)[:20]) or "none yet"
        raise Invalid.field(field, f"Grade: {text} is not in the book ({known}); say that it is new, or read the tag.")
    return catalogue.grade(text.upper(), density_ug_per_cm3=steel.DENSITY_UG_PER_CM3, note="density not checked")


def section(shape: str, size: str, width: str = "", *, prefix: str = "") -> Section:
    """Return the section typed as shape and size; a flat has a width too."""
    found = _SHAPE_WORDS.get(shape.strip().lower())
    if found is None:
        raise Invalid.field(
            f"{prefix}shape", f"Shape: {shape.strip()[:20]!r} is none of {', '.join(SHAPE_LETTERS)}; choose one."
        )
    size_nm = parse_length(size, field=f"{prefix}size").nm
    width_nm = parse_length(width, field=f"{prefix}width").nm if found == Section.Shape.FLAT else 0
    if found != Section.Shape.FLAT and width.strip():
        raise Invalid.field(f"{prefix}width", f"Width: only a flat has one; leave it empty for a {found}.")
    if max(size_nm, width_nm) > 10**9:
        raise Invalid.field(
            f"{prefix}size", "Size: this is above 1 m; write the section's size, such as 2 in or 50 mm."
        )
    if width_nm and width_nm < size_nm:
        size_nm, width_nm = width_nm, size_nm
        size, width = width, size
    typed = f"{size.strip()} × {width.strip()}" if width_nm else size.strip()
    return catalogue.section(found, size_nm, typed=typed[:40], width_nm=width_nm)


def bar_item(grade: Grade, section: Section, *, at: dt.datetime, by: Actor) -> Item:
    """Return the bar item of a grade and section, made where it is new; its code is such as B-1045-RD-2IN."""
    transactions.assert_open()
    there = Item.objects.filter(kind=Item.Kind.BAR, grade=grade, section=section).order_by("id").first()
    if there:
        return there
    name = f"{grade.code} {section.shape} {section.typed}"
    try:
        with transaction.atomic():
            return catalogue.add_item(
                at=at,
                by=by,
                kind=Item.Kind.BAR,
                code=_free_code(grade, section),
                name=name,
                grade=grade,
                section=section,
            )
    except IntegrityError:  # somebody else received the first bar of it in the same moment
        return Item.objects.get(kind=Item.Kind.BAR, grade=grade, section=section)


def _free_code(grade: Grade, section: Section) -> str:
    code = bar_code(grade, section)
    # Two grades whose names differ by a sign only would get one code; the second is counted on.
    taken = set(Item.objects.filter(code__startswith=code).values_list("code", flat=True))
    return next(c for c in (code, *(f"{code[:27]}-{n}" for n in range(2, 99))) if c not in taken)


def bar_code(grade: Grade, section: Section) -> str:
    """Return the code of bars of a grade and section."""
    steel_word = re.sub(r"[^A-Z0-9]+", "", grade.code.upper())
    sizes = "X".join(_size_word(nm) for nm in (section.size_nm, section.width_nm) if nm)
    return f"B-{steel_word}-{SHAPE_LETTERS[section.shape]}-{sizes}"[:30].rstrip("-.")


def _size_word(nm: int) -> str:
    unit, name = (NM_PER_INCH, "IN") if nm % NM_PER_SIXTY_FOURTH == 0 else (NM_PER_MM, "MM")
    whole, rest = divmod(nm, unit)
    digits = f"{rest * 10**6 // unit:06d}".rstrip("0")
    return f"{whole}.{digits}{name}" if digits else f"{whole}{name}"


def blank_item(grade: Grade, section: Section, length_nm: int, *, at: dt.datetime, by: Actor) -> Item:
    """Return the blank of a steel and length, made where it is new; its code is such as K-1045-RD-2IN-4.4375IN."""
    transactions.assert_open()
    there = Item.objects.filter(kind=Item.Kind.BLANK, grade=grade, section=section, blank_length_nm=length_nm)
    found = there.order_by("id").first()
    if found:
        return found
    code = f"K{bar_code(grade, section)[1:]}-{_size_word(length_nm)}"[:27].rstrip("-.")
    taken = set(Item.objects.filter(code__startswith=code).values_list("code", flat=True))
    return catalogue.add_item(
        at=at,
        by=by,
        kind=Item.Kind.BLANK,
        code=next(c for c in (code, *(f"{code}-{n}" for n in range(2, 99))) if c not in taken),
        name=f"{grade.code} {section.shape} {section.typed} blank, {as_taped(length_nm)}",
        grade=grade,
        section=section,
        blank_length_nm=length_nm,
    )

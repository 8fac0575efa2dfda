"""Correcting facts: a mill heat number, a bar's typed length, a landed cost. What happened is never written over."""

import datetime as dt

from django.db.models import F

from inventory.calc.shares import share
from inventory.models import Bar, DeliveryLine, Entry, Holding, Item, Lot, LotParent, Melt
from inventory.queries.cuttable import UNKNOWN_GRADE
from inventory.services import catalogue, delivery_lines, ledger
from inventory.services.ledger import Line, Locks, Stamp
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal
from shop.shared.units import length_inches, parse_length

STEEL = (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD)


class CannotCorrect(Refusal):
    """The fact cannot be corrected as the book stands."""

    code = "cannot_correct"


def heat_number(melt: Melt, number: str, *, at: dt.datetime, by: Actor, reason: str, mill: str | None = None) -> Melt:
    """Correct a mill heat number that was typed wrongly; a melt that is in the book under the right number takes over."""
    transactions.assert_open()
    if not melt.known:
        raise CannotCorrect("The unknown melt stands for many lots; say of each lot which melt it is instead.")
    if number.strip().lower() in ("", "unknown"):
        raise Invalid.field("heat_number", "Mill heat number: copy the right one from the tag or certificate.")
    before = {"mill": melt.mill, "heat_number": melt.heat_number}
    mill = melt.mill if mill is None else mill.strip()[:80]
    if (mill, number.strip()) == (melt.mill, melt.heat_number):
        raise Invalid.field("heat_number", f"Mill heat number: it is {melt.heat_number} already; write the right one.")
    there = Melt.objects.filter(mill=mill, heat_number=number.strip(), known=True).first()
    right = there or _rename(melt, number.strip(), mill)
    if there is not None:
        _take_over(melt, there)
    audit.write(
        at=at,
        by=by.label,
        action="mill heat number corrected",
        subject=f"melt {melt.pk}",
        before=before,
        after={"mill": right.mill, "heat_number": right.heat_number, "melt": right.pk},
        reason=reason,
    )
    return right


def _rename(melt: Melt, number: str, mill: str) -> Melt:
    if len(number) > 40 or not number.isprintable():
        raise Invalid.field("heat_number", "Mill heat number: up to 40 signs, copied from the tag, would work.")
    melt.heat_number, melt.mill = number, mill
    melt.save(update_fields=["heat_number", "mill"])
    return melt


def _take_over(wrong: Melt, right: Melt) -> None:
    if right.grade_id != wrong.grade_id:
        raise Invalid.field(
            "heat_number",
            f"Mill heat number: {right.heat_number} is {right.grade.code} in the book, not {wrong.grade.code}; "
            "read the tag again.",
        )
    Lot.objects.filter(melt=wrong).update(melt=right)
    DeliveryLine.objects.filter(melt=wrong).update(melt=right)
    _tools_follow(right)


def melt_of(lot: Lot, number: str, *, at: dt.datetime, by: Actor, reason: str, mill: str = "") -> Melt:
    """Say of a lot which melt it really is, as when its certificate turns up.

    What it was sawn from is of the same melt, and so is all that was made of that: the whole family follows.
    """
    transactions.assert_open()
    if lot.melt is None:
        raise CannotCorrect(f"Lot {lot.code} is no steel; it has no mill heat number.")
    if lot.melt.grade.code == UNKNOWN_GRADE:
        raise CannotCorrect(
            f"Nobody knows the grade of lot {lot.code}; where it is known after all, undo the line that says it is lost."
        )
    right = catalogue.melt(grade=lot.melt.grade, heat_number=number, mill=mill)
    if right.pk == lot.melt_id:
        raise Invalid.field("heat_number", f"Mill heat number: lot {lot.code} is {right.heat_number} already.")
    lots = _family(lot)
    Lot.objects.filter(pk__in=lots).update(melt=right)
    _tools_follow(right)
    audit.write(
        at=at,
        by=by.label,
        action="melt of a lot corrected",
        subject=f"lot {lot.code}",
        before={"melt": lot.melt_id, "heat_number": lot.melt.heat_number},
        after={"melt": right.pk, "heat_number": right.heat_number, "lots": len(lots)},
        reason=reason,
    )
    return right


def _family(lot: Lot) -> set[int]:
    """Return the lot, what it came from and every bar, blank and head made of that, as far as it is of the same melt.

    A tool is left out, as it may hold steel of two origins; it follows its parts.
    """
    found, fresh, melt_id = {lot.pk}, {lot.pk}, lot.melt_id or 0
    while fresh:
        up = LotParent.objects.filter(child_id__in=fresh, parent__melt_id=melt_id)
        down = LotParent.objects.filter(parent_id__in=fresh, child__melt_id=melt_id, child__item__kind__in=STEEL)
        fresh = {*up.values_list("parent_id", flat=True), *down.values_list("child_id", flat=True)} - found
        found |= fresh
    return found


def _tools_follow(melt: Melt) -> None:
    """Let the tools with steel of a melt name it where all their steel is of it, and none where it is of several."""
    made_of = LotParent.objects.filter(child__item__kind=Item.Kind.TOOL, parent__melt=melt)
    for tool in set(made_of.values_list("child_id", flat=True)):
        steel = LotParent.objects.filter(child_id=tool, parent__melt__isnull=False)
        melts = set(steel.values_list("parent__melt_id", flat=True))
        Lot.objects.filter(pk=tool).update(melt_id=melts.pop() if len(melts) == 1 else None)


def bar_length(bar: Bar, length: str, *, locks: Locks, stamp: Stamp, unit: str | None = None) -> Entry:
    """Correct the length a measured bar was typed with; the difference is booked where the bar stands."""
    transactions.assert_open()
    right = parse_length(length, default_unit=unit, field="length")
    bar.refresh_from_db()
    if not bar.measured:
        raise CannotCorrect(f"Bar {bar.number} was not measured yet; measure it at the door instead.")
    holding = Holding.objects.filter(lot_id=bar.pk, on_hand__gt=0, step=0).select_related("place").first()
    if holding is None:
        raise CannotCorrect(f"Nothing of bar {bar.number} is left in the shop; its length cannot be corrected.")
    change = right.nm - bar.length_nm
    if change == 0:
        raise Invalid.field("length", f"Length: bar {bar.number} is {length_inches(bar.length_nm)} already.")
    if holding.on_hand + change < 1:
        raise Invalid.field(
            "length", f"Length: {length_inches(holding.on_hand)} of bar {bar.number} is left; write a longer one."
        )
    entry = ledger.commit(Entry.Kind.CORRECTION, [_difference(bar, holding, change)], locks=locks, stamp=stamp)
    before = {"length_nm": bar.length_nm, "typed": bar.typed}
    Bar.objects.filter(pk=bar.pk).update(length_nm=right.nm, typed=right.typed)
    _reweigh(bar, right.nm)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="bar length corrected",
        subject=f"bar {bar.number}",
        before=before,
        after={"length_nm": right.nm, "typed": right.typed, "entry": entry.pk},
        reason=stamp.reason,
    )
    bar.refresh_from_db()
    return entry


def _difference(bar: Bar, holding: Holding, change: int) -> Line:
    outside = catalogue.place("DIFFERENCE")
    source, target = (outside, holding.place) if change > 0 else (holding.place, outside)
    return Line(lot=bar.lot, qty=abs(change), source=source, target=target)


def _reweigh(bar: Bar, length_nm: int) -> None:
    """Work the delivery line's computed mass out again; what the scale said stays as it was."""
    line = bar.lot.delivery_line
    grade = bar.lot.item.grade
    if line is None or line.computed_mass_mg is None or grade is None:
        return
    density = grade.density_ug_per_cm3
    was = delivery_lines.mass_of(bar.section, bar.length_nm, density)
    now = delivery_lines.mass_of(bar.section, length_nm, density)
    DeliveryLine.objects.filter(pk=line.pk).update(computed_mass_mg=F("computed_mass_mg") + (now - was))


def cost(line: DeliveryLine, cost_minor: int | None, *, at: dt.datetime, by: Actor, reason: str) -> DeliveryLine:
    """Correct the landed cost of a delivery line; its lots get their shares by mass anew."""
    transactions.assert_open()
    if cost_minor is not None and not 0 <= cost_minor <= catalogue.MOST:
        raise Invalid.field("cost", "Cost: write what the line cost landed, 0 or more.")
    lots = list(line.lots.order_by("id"))
    before = {"cost_minor": line.cost_minor}
    weights = [lot.bar.length_nm if line.bars else 1 for lot in lots]  # one section, so length shares as mass does
    shares = share(cost_minor, weights) if cost_minor is not None else [None] * len(lots)
    for lot, part in zip(lots, shares, strict=True):
        Lot.objects.filter(pk=lot.pk).update(cost_minor=part)
    DeliveryLine.objects.filter(pk=line.pk).update(cost_minor=cost_minor)
    audit.write(
        at=at,
        by=by.label,
        action="cost corrected",
        subject=f"delivery {line.delivery.number}",
        before={"line": line.number, **before},
        after={"line": line.number, "cost_minor": cost_minor},
        reason=reason,
    )
    line.refresh_from_db()
    return line

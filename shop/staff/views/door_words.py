"""What the Door says about a line: the bars read back, the weight beside the scale, what the order still waits for."""

import datetime as dt
from collections import Counter
from collections.abc import Sequence

from inventory.calc.shares import difference_ppm
from inventory.calc.workdays import claim_deadline
from inventory.models import PurchaseOrderLine, Supplier
from inventory.services import purchase_words
from inventory.services.delivery_lines import ReadyLine
from shop.shared import units
from shop.staff import wording

ALONE_MG = 23_133_000  # 51 lb, the most that one person lifts; over twice of it a hoist
HOIST_MG = 45_359_000


def lengths_said(lengths: Sequence[int]) -> str:
    """Write bars by their length: 6 × 20 ft 1/2 in (6 108.7 mm), 1 × 18 ft 10 in (5 740.4 mm)."""
    return ", ".join(f"{count} × {units.both(nm)}" for nm, count in Counter(lengths).items())


def mass_said(computed_mg: int, scale_mg: int | None) -> str:
    """Write the computed mass and how far the scale is off it."""
    worked_out = f"{units.mass_lb(computed_mg)} ({units.mass_kg(computed_mg)}) worked out, not weighed"
    if scale_mg is None:
        return f"{worked_out}."
    scale = f"{units.mass_lb(scale_mg)} ({units.mass_kg(scale_mg)}) on the scale"
    return f"{scale}, {off_said(difference_ppm(scale_mg, computed_mg))}; {worked_out}."


def off_said(ppm: int | None) -> str:
    """Write a difference in per cent with one place: 0.4 % over."""
    if ppm is None or abs(ppm) < 500:
        return "as worked out"
    return f"{abs(ppm) / 10_000:.1f} % {'over' if ppm > 0 else 'under'}"


def echoes(line: ReadyLine, supplier: Supplier | None, today: dt.date) -> list[str]:
    """Return what the page prints under a line that could be read."""
    said = []
    if line.bars:
        where = "on the rack" if line.measured else "at the Door until they are measured; nothing is cut before"
        bars = "1 bar" if len(line.bars) == 1 else f"{len(line.bars)} bars"
        said.append(f"{bars} of {line.item.name}: {lengths_said([bar.nm for bar in line.bars])}; {where}.")
        said.append(mass_said(line.computed_mass_mg or 0, line.scale_mass_mg))
    else:
        said.append(f"{wording.counted(line.item, line.qty)} to {line.place.name}.")
    if line.order_line is not None:
        said.append(against_order(line.order_line, line, supplier, today))
    return said


def against_order(ordered: PurchaseOrderLine, line: ReadyLine, supplier: Supplier | None, today: dt.date) -> str:
    """Say whether a line is as ordered, short or over, and what to do about it while the driver is here."""
    if ordered.bars is not None:
        have, left = len(line.bars), ordered.bars - ordered.received_bars
        gap, got, short = _bars(abs(left - have)), str(have), str(left - have)
    else:
        have, left = line.qty, ordered.qty - ordered.received
        gap, got = purchase_words.amount(line.item, abs(left - have)), purchase_words.amount(line.item, have)
        short = gap
    if have == left:
        return "As ordered."
    if have > left:
        return f"{gap} more than ordered: keep it, or send it back with the driver."
    claim = (
        f" Claims close {wording.on_day(claim_deadline(today, supplier.claim_days))}."
        if supplier and supplier.claim_days
        else ""
    )
    return f"{gap} short. Have the driver write “{got} received, {short} short” on his paper.{claim}"


def _bars(count: int) -> str:
    return "1 bar" if count == 1 else f"{count} bars"


def heaviest(masses_mg: Sequence[int]) -> int | None:
    """Return the heaviest bar where it is too heavy for one person; nothing where all can be lifted."""
    most = max(masses_mg, default=0)
    return most if most > ALONE_MG else None

"""A bar of a cut plan to scale: what stays at the paint, the blanks from the free end, the mill end; and all in words."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory.models import CutPlan, CutPlanLine
from shop.shared.units import as_taped, both
from shop.staff import wording
from shop.staff.ruled import Column, Ruled

_INSIDE = 45  # per cent of the sheet a rest must be wide for its words to stand inside


@dataclass(frozen=True, slots=True)
class Blanks:
    """Blanks of one length side by side: where they begin and end in per cent, the cuts between them, how many."""

    x: str
    width: str
    middle: str
    kerfs: Sequence[str]
    count: int
    each_nm: int
    name: str


@dataclass(frozen=True, slots=True)
class DrawnBar:
    """One bar: the sentence for the saw, what to mind, the drawing's figures, and the same in words."""

    number: str
    bought: bool
    sentence: str
    mind: str
    blanks: Sequence[Blanks]
    rest_width: str
    rest_words: str
    rest_inside: bool
    rest_middle: str
    thrown: bool
    trim_x: str
    trim_width: str
    trim_words: str
    end: str
    said: str
    hatch: str
    row: Mapping[str, Any]


def drawn(
    plan: CutPlan, rows: Sequence[Mapping[str, Any]], lines: Sequence[CutPlanLine], longest: int, *, key: int = 1
) -> list[DrawnBar]:
    """Draw the bars of an answer, all to one scale.

    Args:
        plan: for the kerf.
        rows: of the answer, lengths in nm.
        lines: what is wanted, found by number.
        longest: the length that takes the whole width, nm.
        key: unlike that of other answers on the page.

    Returns:
        One drawing a row.
    """
    by_number = {line.number: line for line in lines}
    return [_drawn(plan, row, by_number, longest, f"hatch{key}-{at}") for at, row in enumerate(rows)]


def _drawn(
    plan: CutPlan, row: Mapping[str, Any], lines: Mapping[int, CutPlanLine], longest: int, hatch: str
) -> DrawnBar:
    def share(nm: int) -> float:
        return nm * 100 / longest

    length, kerf, trim = row["length_nm"], plan.kerf_nm, row["trim_nm"]
    groups, end = [], length - trim
    for blank, pieces in itertools.groupby(row["pieces"], lambda number: lines[number].blank_id):
        numbers = list(pieces)
        line = next(lines[number] for number in numbers if lines[number].blank_id == blank)
        step = line.piece_nm + kerf
        begin = max(0, end - len(numbers) * step)
        kerfs = [f"{share(end - n * step):.3f}%" for n in range(1, len(numbers))]
        groups.append(
            Blanks(
                f"{share(begin):.3f}%",
                f"{share(end - begin):.3f}%",
                f"{share((begin + end) / 2):.2f}%",
                kerfs,
                len(numbers),
                line.piece_nm,
                line.blank.name,
            )
        )
        end = begin
    rest = share(row["left_nm"])
    words = _rest(row)
    sentence = _sentence(row, groups)
    mind = _mind(plan, row)
    return DrawnBar(
        number=row["bar"],
        bought=row["bought"],
        sentence=sentence,
        mind=mind,
        blanks=groups,
        rest_width=f"{rest:.3f}%",
        rest_words=words,
        rest_inside=rest > _INSIDE,
        rest_middle=f"{rest / 2:.2f}%",
        thrown=not row["kept"],
        trim_x=f"{share(length - trim):.3f}%",
        trim_width=f"{share(trim):.3f}%",
        trim_words=f"mill end {as_taped(plan.trim_nm)}" if trim else "",
        end=f"{share(length):.2f}%",
        said=f"{sentence} {mind} Bar {row['bar']} is {both(length)}; {words or 'nothing is left'}.",
        hatch=hatch,
        row=row,
    )


def _sentence(row: Mapping[str, Any], groups: Sequence[Blanks]) -> str:
    what = "bar" if row["full"] else "remnant"
    first, *others = groups
    said = f"Stop at {as_taped(first.each_nm)}. Cut {first.count} from {what} {row['bar']}."
    if row["bought"]:
        said = f"Stop at {as_taped(first.each_nm)}. Cut {first.count} from a bar to buy, {as_taped(row['length_nm'])}."
    return said + "".join(f" Then stop at {as_taped(one.each_nm)}, cut {one.count}." for one in others)


def _mind(plan: CutPlan, row: Mapping[str, Any]) -> str:
    said = []
    if row["trim_nm"]:
        said.append(f"Trim {as_taped(plan.trim_nm)} off the mill end first.")
    if row["kept"]:
        said.append("Cut from the free end and keep the paint.")
    return " ".join(said)


def _rest(row: Mapping[str, Any]) -> str:
    if not row["left_nm"]:
        return ""
    return f"{'stays' if row['kept'] else 'scrap end'} {as_taped(row['left_nm'])}"


def costs(plan: CutPlan, rows: Sequence[Mapping[str, Any]], lines: Sequence[CutPlanLine]) -> Ruled:
    """Return what becomes of each bar: in blanks, in saw cuts, thrown, and what stays; the last row is the sum."""
    piece = {line.number: line.piece_nm for line in lines}
    names = ("bar", "before", "in blanks", "saw cuts", "thrown", "stays")
    columns = [Column(name, figures=name != "bar") for name in names]
    found = []
    for row in rows:
        blanks = sum(piece[number] for number in row["pieces"])
        mill = plan.trim_nm if row["trim_nm"] else 0
        thrown = mill + (0 if row["kept"] else row["left_nm"])
        stays = row["left_nm"] if row["kept"] else 0
        cuts = row["length_nm"] - blanks - thrown - stays
        found.append((row["bar"], row["length_nm"], blanks, cuts, thrown, stays))
    table = [[one[0], *(_length(nm) for nm in one[1:])] for one in found]
    sums = [sum(column) for column in zip(*(one[1:] for one in found), strict=True)] if found else []
    total = [f"all {wording.figures(len(found))}", *(_length(nm) for nm in sums)] if len(found) > 1 else []
    return Ruled("What it costs", columns, table, total)


def _length(nm: int) -> str:
    return as_taped(nm) if nm else "0"

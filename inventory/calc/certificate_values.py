"""Reading one figure off a mill certificate, as printed, into an exact percentage."""

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from inventory.calc.grade_limits import ELEMENTS, PPM_PER_PERCENT

MOST_CHARACTERS: Final = 24  # No source: longer than any figure a certificate prints
MOST_PERCENT: Final = 100  # all of the mass

# What stands in a column with nothing in it. Source: common practice on mill papers.
_NOTHING: Final = frozenset({"", "-", "--", "---", "–", "—", "−", "n/a", "na", "n.a.", "n/r", "nr", "n.r."})
_FIGURE: Final = re.compile(
    r"(?P<bound><=|≤|<)? ?(?P<figure>[0-9]{1,7}(?:[.,][0-9]{1,8})?|[.,][0-9]{1,8})"
    r" ?(?P<unit>%|wt\.? ?%|% ?wt\.?|mass ?%|pct\.?|ppm)?"
)
# Symbols that are written out, and the older symbol of niobium. Source: plain words.
_NAMES: Final = {
    "carbon": "C", "manganese": "Mn", "phosphorus": "P", "phosphorous": "P", "sulphur": "S", "sulfur": "S",
    "silicon": "Si", "chromium": "Cr", "nickel": "Ni", "molybdenum": "Mo", "vanadium": "V", "tungsten": "W",
    "copper": "Cu", "aluminium": "Al", "aluminum": "Al", "nitrogen": "N", "boron": "B", "titanium": "Ti",
    "niobium": "Nb", "cb": "Nb", "cobalt": "Co", "tin": "Sn", "lead": "Pb", "calcium": "Ca",
}  # fmt: skip
_BY_LETTERS: Final = {**_NAMES, **{symbol.lower(): symbol for symbol in ELEMENTS}}


class Bound(StrEnum):
    """Whether a figure is the value itself or only something above it."""

    EXACT = ""
    BELOW = "<"
    AT_MOST = "≤"


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure as read: exact percent of the mass, and whether the steel holds that or less."""

    percent: Decimal
    bound: Bound = Bound.EXACT


@dataclass(frozen=True, slots=True)
class Unread:
    """A figure that was not read, and the sentence that says why and what would work."""

    why: str


def symbol(name: str) -> str | None:
    """Read the name of an element.

    Args:
        name: symbol or English name in any case, a % or ( % ) after it allowed.

    Returns:
        The symbol, or None where it is not an element kept here.

    Raises:
        ValueError: never.

    Source: IUPAC symbols.
    """
    return _BY_LETTERS.get(re.sub(r"[\s%()]+", "", name).lower())


def read(element: str, printed: str) -> Figure | Unread | None:
    """Read a figure such as `0.43`, `.43`, `0,43`, `0.43 %`, `<0.01` or `35 ppm`.

    Args:
        element: the symbol, for the sentence.
        printed: the text as printed; up to 24 characters. One comma or point is the decimal sign, since no percentage
            reaches a thousand.

    Returns:
        A Figure (exact percent of the mass), an Unread, or None where the column holds nothing.

    Raises:
        ValueError: never; what cannot be read is a value.

    Source: none; the ways certificates print figures are common practice.
    """
    text = " ".join(printed.split()).lower()
    if text in _NOTHING:
        return None
    found = _FIGURE.fullmatch(text) if len(printed) <= MOST_CHARACTERS else None
    if found is None:
        shown = f" “{printed.strip()}”" if len(printed) <= MOST_CHARACTERS and printed.isprintable() else ""
        return Unread(f"{element}{shown} is not a figure: type it as printed, such as 0.43, or leave it empty.")
    percent = Decimal(found["figure"].replace(",", "."))
    if found["unit"] == "ppm":
        percent /= PPM_PER_PERCENT
    if percent > MOST_PERCENT:
        return Unread(
            f"{element} “{printed.strip()}” is more than all of the steel: type the percentage, such as 0.43."
        )
    return Figure(percent, _bound(found["bound"]))


def _bound(sign: str | None) -> Bound:
    """Tell what the sign before a figure means."""
    if sign is None:
        return Bound.EXACT
    return Bound.BELOW if sign == "<" else Bound.AT_MOST

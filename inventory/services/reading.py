"""Reading what was typed about goods: a list of bars with their lengths, and a quantity in boxes, dozens or units."""

import re
from dataclasses import dataclass

from inventory.models import Item
from shop.shared.errors import Invalid
from shop.shared.units import parse_length, parse_mass, parse_volume, parse_whole

MOST_BARS = 500
MOST_TYPED = 4096
DOZENS = {"dozen": 12, "dozens": 12, "doz": 12, "dz": 12, "gross": 144}
PIECES = ("", "pc", "pcs", "piece", "pieces", "each", "ea")
UNITS = ("", "ft", "in", "m", "cm", "mm")
EXAMPLE = "6 @ 20 ft 1/2 in, 1 @ 5.74 m"

# A comma parts two bars where a space, the end or another "so many @" follows; otherwise it is a decimal comma.
_PARTS = re.compile(r"[;\n\r]|,(?=\s|$|\d+\s*[@x×])")
_TIMES = re.compile(
    r"\s*(?P<count>\d{1,6})\s*(?:bars?\s*)?(?:[@×]|x(?![a-z]))\s*(?P<length>.+)", re.IGNORECASE | re.DOTALL
)
_COUNT = re.compile(r"\s*(?P<count>\d{1,6})\s*(?:bars?)\s*", re.IGNORECASE)
_BOUGHT = re.compile(r"\s*(?P<number>[\d.,]+)(?:\s+|(?=[^\d\s.,]))(?P<word>.*\S)\s*")  # the unit may be "25 lb bag"
_QUANTITY = re.compile(r"\s*(?P<number>[\d.,]+)\s*(?P<word>[^\d\s].*?)?\s*")


@dataclass(frozen=True, slots=True)
class BarLength:
    """One bar's length and how it was typed."""

    nm: int
    typed: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity in the item's own unit and how it was typed."""

    qty: int
    typed: str


def bar_list(text: str, *, unit: str | None = None, field: str = "bars") -> list[BarLength]:
    """Read a list of bars such as `6 @ 20 ft 1/2 in, 1 @ 5.74 m` or a plain list of lengths.

    `unit` is what a bare number means: ft, in, m, cm or mm; without it a bare number is refused.
    """
    if len(text) > MOST_TYPED:
        raise Invalid.field(field, f"Bars: more than {MOST_TYPED} characters are written; use two lines.")
    bars: list[BarLength] = []
    for part in _PARTS.split(text):
        if not part.strip():
            continue
        times = _TIMES.fullmatch(part)
        count, length_text = (int(times["count"]), times["length"]) if times else (1, part)
        length = parse_length(length_text.strip(), default_unit=unit, field=field)
        if not 1 <= count <= MOST_BARS or len(bars) + count > MOST_BARS:
            raise Invalid.field(field, f"Bars: {count} @ {length_text.strip()} is out of range; 1 to {MOST_BARS} bars.")
        bars.extend([BarLength(length.nm, length.typed.strip())] * count)
    if not bars:
        raise Invalid.field(field, f"Bars: nothing is written yet; how many at which length, such as {EXAMPLE}.")
    return bars


def sawn_list(text: str, *, unit: str | None = None, field: str = "lengths") -> list[tuple[BarLength, ...]]:
    """Read a list of bars as `bar_list` does, where one that was sawn in two is written with a plus.

    `5 @ 20 ft 1/2 in, 1 @ 9 ft 11 in + 10 ft 1 in` is six bars, the last of them in two lengths.
    """
    if len(text) > MOST_TYPED:
        raise Invalid.field(field, f"Lengths: more than {MOST_TYPED} characters are written; use fewer.")
    bars: list[tuple[BarLength, ...]] = []
    for part in _PARTS.split(text):
        if not part.strip():
            continue
        times = _TIMES.fullmatch(part)
        count, typed = (int(times["count"]), times["length"]) if times else (1, part)
        if not 1 <= count <= MOST_BARS or len(bars) + count > MOST_BARS:
            raise Invalid.field(field, f"Lengths: {count} bars are out of range; 1 to {MOST_BARS} would work.")
        read = [parse_length(one.strip(), default_unit=unit, field=field) for one in typed.split("+")]
        bars.extend([tuple(BarLength(one.nm, one.typed.strip()) for one in read)] * count)
    return bars


def pairs_list(text: str, *, field: str = "sizes") -> list[str]:
    """Read a list of two sizes a bar, `6 @ 2.004/1.998, 2.01/2.00`, into one text for each bar."""
    if len(text) > MOST_TYPED:
        raise Invalid.field(field, f"Sizes: more than {MOST_TYPED} characters are written; use fewer.")
    pairs: list[str] = []
    for part in _PARTS.split(text):
        if not part.strip():
            continue
        times = _TIMES.fullmatch(part)
        count, typed = (int(times["count"]), times["length"]) if times else (1, part)
        if not 1 <= count <= MOST_BARS or len(pairs) + count > MOST_BARS:
            raise Invalid.field(field, f"Sizes: {count} bars are out of range; 1 to {MOST_BARS} would work.")
        pairs.extend([typed.strip()] * count)
    return pairs


def bar_count(text: str) -> int | None:
    """Read a bare count such as `7` or `7 bars`, for bars not measured yet; nothing where lengths are written."""
    counted = _COUNT.fullmatch(text) or re.fullmatch(r"\s*(?P<count>\d{1,3})\s*", text)
    return int(counted["count"]) if counted else None


def quantity(text: str, item: Item, *, field: str = "quantity", allow_zero: bool = False) -> Quantity:
    """Read a quantity of an item in its own unit: `36`, `3 dozen`, `2 box`, `5 lb`, `2 pail`, `1 gal`."""
    typed = text.strip()
    if len(typed) > 40:
        raise Invalid.field(field, "Quantity: more than 40 characters are written; a number and a unit would work.")
    bought = _BOUGHT.fullmatch(text)
    if bought and item.buy_unit and bought["word"].lower().rstrip(".") in _spellings(item.buy_unit.rstrip(".")):
        return Quantity(_times(bought["number"], item.issue_per_buy, field), typed)
    found = _QUANTITY.fullmatch(text)
    word = (found["word"] or "").lower().rstrip(".") if found else ""
    if item.unit == Item.Unit.MG:
        return Quantity(parse_mass(typed, field=field, allow_zero=allow_zero).mg, typed)
    if item.unit == Item.Unit.UL:
        return Quantity(parse_volume(typed, field=field, allow_zero=allow_zero).ul, typed)
    if item.unit == Item.Unit.NM:
        raise Invalid.field(field, f"Quantity: {item.code} is steel; write its bars and lengths.")
    if found and word in DOZENS:
        return Quantity(_times(found["number"], DOZENS[word], field), typed)
    if word not in PIECES:
        known = ", ".join(dict.fromkeys(filter(None, ("pieces", "dozen", item.buy_unit))))
        raise Invalid.field(field, f"Quantity: {typed!r} is no number of {item.code}; a number in {known} would work.")
    number = found["number"] if found else typed
    return Quantity(parse_whole(number, field, least=0 if allow_zero else 1), typed)


def _times(number: str, each: int, field: str) -> int:
    count = parse_whole(number, field)
    if count * each > 9_000_000_000_000_000:
        raise Invalid.field(field, f"Quantity: {number} is far out of range; write what really came.")
    return count * each


def _spellings(word: str) -> set[str]:
    plain = word.strip().lower()
    return {plain, f"{plain}s", f"{plain}es", plain.removesuffix("s"), plain.removesuffix("es")}

"""Reads a quantity of numbers and units (`12 ft 3 1/2 in`, `3 lb 3.7 oz`) into an exact fraction of the base unit."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from shop.shared.units.typed import Token, Typed, fraction, number, plain, tokens

THIN_SPACE = "\u2009"
MOST_PLACES = 12


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: how it is printed, how many base units it has, and which other units it may stand beside."""

    symbol: str
    size: Fraction
    family: str


@dataclass(frozen=True, slots=True)
class Measure:
    """A kind of quantity: its units by every spelling, what a bare number after a unit means, sentences' examples."""

    units: Mapping[str, Unit]
    follows: Mapping[str, str]
    choices: str
    example: str


@dataclass(frozen=True, slots=True)
class _Part:
    value: Fraction
    unit: Unit | None


def spellings(symbol: str, size: Fraction, family: str, *others: str) -> dict[str, Unit]:
    """List a unit under its symbol and other spellings, lower case."""
    unit = Unit(symbol, size, family)
    return dict.fromkeys((symbol.lower(), *others), unit)


def read(entry: Typed, measure: Measure, default_unit: str | None) -> Fraction:
    """Read the text as base units, exactly.

    Raises:
        Invalid: the text is not a quantity of this kind.
        ValueError: `default_unit` is not one of the measure's units.
    """
    default_unit = default_unit and default_unit.lower()
    if default_unit is not None and default_unit not in measure.units:
        raise ValueError(f"default_unit {default_unit!r} is not a unit of this measure")
    parts = _parts(entry, measure, tokens(entry, plain(entry, measure.example), measure.example))
    if parts[-1].unit is None:
        parts[-1] = _Part(parts[-1].value, _bare(entry, measure, parts, default_unit))
    for above, below in pairwise(parts):
        _fits(entry, measure, above, below)
    return sum((part.value * part.unit.size for part in parts if part.unit is not None), Fraction(0))


def whole(entry: Typed, value: Fraction, what: str, most: tuple[int, str], *, allow_zero: bool) -> int:
    """Round half-even to whole base units and refuse what is nought or beyond the most."""
    rounded = round(value)
    if value > most[0]:
        raise entry.refuse(f"is more than a {what} can be here: write at most {most[1]}")
    if rounded == 0 and not allow_zero:
        raise entry.refuse(f"is nought or too small to keep: write a {what} above nought")
    return rounded


def grouped(digits: str) -> str:
    """Set thin spaces between groups of three digits before the decimal point."""
    before, point, after = digits.partition(".")
    return f"{int(before):,}".replace(",", THIN_SPACE) + point + after


def decimal_text(value: Fraction, places: int) -> str:
    """Print rounded half-even to at most so many places, without trailing noughts."""
    scaled = round(value * 10**places)
    before, after = divmod(scaled, 10**places)
    tail = f"{after:0{places}d}".rstrip("0") if places else ""
    return grouped(f"{before}.{tail}" if tail else str(before))


def figures_text(value: Fraction, figures: int) -> str:
    """Print to so many significant figures; digits before the point are never rounded away."""
    power = 0  # value is at least ten to this power and below ten times that
    while value >= 10 ** (power + 1):
        power += 1
    while 0 < value < Fraction(10) ** power and power > -MOST_PLACES:
        power -= 1
    places = min(max(figures - 1 - power, 0), MOST_PLACES)
    return decimal_text(value, places)


def _fits(entry: Typed, measure: Measure, above: _Part, below: _Part) -> None:
    """Refuse two parts that do not stand side by side, as feet and inches do."""
    if above.unit is None or below.unit is None:
        raise entry.refuse(f"has two numbers side by side: write a unit after each, as in {measure.example}")
    first, second = above.unit.symbol, below.unit.symbol
    if above.unit.family != below.unit.family or above.unit.size <= below.unit.size:
        raise entry.refuse(
            f"puts {first} before {second}: use one system with the larger unit first, as in {measure.example}"
        )
    if above.value.denominator != 1:
        raise entry.refuse(f"has a part of one {first} with {second} after it: write a whole number of {first} there")
    if below.value * below.unit.size >= above.unit.size:
        raise entry.refuse(f"has a whole {first} or more in {second}: write less than one {first} after the {first}")


def _bare(entry: Typed, measure: Measure, parts: list[_Part], default_unit: str | None) -> Unit:
    """Decide the unit of a last number that has none."""
    before = parts[-2].unit if len(parts) > 1 else None
    if before is not None and before.symbol in measure.follows:
        return measure.units[measure.follows[before.symbol]]
    if len(parts) == 1 and default_unit is not None:
        return measure.units[default_unit]
    if len(parts) == 1:
        raise entry.refuse(f"has no unit: add {measure.choices}, as in {measure.example}")
    raise entry.refuse(f"ends in a number without a unit: write it as {measure.example}")


def _parts(entry: Typed, measure: Measure, row: list[Token]) -> list[_Part]:
    """Cut the tokens into numbers with their units."""
    if row[0].kind == "dash":
        raise entry.refuse(f"cannot be negative: write it as {measure.example}")
    parts: list[_Part] = []
    at = 0
    while at < len(row):
        before = parts[-1].unit if parts else None
        if row[at].kind == "dash" and before is not None and before.symbol in measure.follows:
            at += 1  # 12'-3" is how drawings join feet and inches
        value, at = _value(entry, measure, row, at)
        unit, at = _unit(entry, measure, row, at)
        parts.append(_Part(value, unit))
    return parts


def _value(entry: Typed, measure: Measure, row: list[Token], at: int) -> tuple[Fraction, int]:
    """Read `2`, `2.5`, `3/8`, `2 3/8` or `2-3/8` and say where it ends."""
    kinds = [token.kind if token.text != "/" else "/" for token in row[at : at + 5]] + [""] * 5
    if kinds[0] != "number":
        raise entry.refuse(f"lacks a number where one is due: write it as {measure.example}")
    if kinds[1:3] == ["/", "number"]:
        return fraction(entry, row[at].text, row[at + 2].text), at + 3
    first = number(entry, row[at].text, comma_groups=False)
    tight_dash = kinds[1] == "dash" and row[at + 1].text == "-"
    start = at + (2 if tight_dash else 1)
    if kinds[start - at : start - at + 3] == ["number", "/", "number"]:
        if not row[at].text.isdigit():
            raise entry.refuse("has a decimal and a fraction in one number: write one or the other, as 2 3/8 or 2.375")
        return first + fraction(entry, row[start].text, row[start + 2].text), start + 3
    return first, at + 1


def _unit(entry: Typed, measure: Measure, row: list[Token], at: int) -> tuple[Unit | None, int]:
    """Read the unit after a number, if there is one, and say where it ends."""
    if at == len(row) or row[at].kind in ("number", "dash"):
        return None, at
    name = row[at].text.removesuffix(".")
    end = at + 1
    if name in ("fl", "fluid") and end < len(row) and row[end].kind == "word":
        name, end = f"{name} {row[end].text.removesuffix('.')}", end + 1
    if name not in measure.units:
        raise entry.refuse(f"has \u201c{name}\u201d, which is not a unit here: use {measure.choices}")
    return measure.units[name], end

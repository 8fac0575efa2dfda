"""Shares in per cent and figures with one decimal, read without a float."""

import re
from fractions import Fraction

from shop.shared.errors import Invalid

_DECIMAL = re.compile(r"(\d{1,6})(?:[.,](\d{1,6}))?")
MILLION = 1_000_000


def _read(typed: str, field: str, works: str) -> Fraction:
    found = _DECIMAL.fullmatch(typed.strip().removesuffix("%").strip())
    if not found:
        raise Invalid.field(field, f"{field.capitalize()}: {typed[:20]!r} is no figure; {works} would work.")
    return Fraction(f"{found[1]}.{found[2] or 0}")


def parse_percent_ppm(typed: str, field: str = "share") -> int:
    """Read a share in per cent, 0 to 100, as parts of a million."""
    value = _read(typed, field, "11 or 11.5 %")
    if value > 100:
        raise Invalid.field(field, f"{field.capitalize()}: no more than 100 % would work.")
    return round(value * 10_000)


def parse_tenths(typed: str, field: str, *, most: int) -> int:
    """Read a figure with one decimal as tenths, from 1 tenth to `most`."""
    value = round(_read(typed, field, "53 or 53.5") * 10)
    if not 1 <= value <= most:
        raise Invalid.field(field, f"{field.capitalize()}: 0.1 to {most / 10:g} would work.")
    return value

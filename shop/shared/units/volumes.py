"""Volumes in whole microlitres, for oil, glue and quenchants; US gallons and their parts."""

from dataclasses import dataclass
from fractions import Fraction

from shop.shared.units.measures import Measure, figures_text, read, spellings, whole
from shop.shared.units.typed import typed

UL_PER_LITRE = 1_000_000
UL_PER_GALLON = Fraction(3_785_411_784, 1000)  # 231 cubic inches: NIST Handbook 44, Appendix C
UL_PER_QUART = UL_PER_GALLON / 4
UL_PER_FLUID_OUNCE = UL_PER_GALLON / 128
_MOST = (100_000 * UL_PER_LITRE, "100 000 L (26 000 gal)")

VOLUMES = Measure(
    units={
        **spellings("gal", UL_PER_GALLON, "gallon", "gallon", "gallons"),
        **spellings("qt", UL_PER_QUART, "gallon", "qts", "quart", "quarts"),
        **spellings("pt", UL_PER_GALLON / 8, "gallon", "pint", "pints"),
        **spellings("fl oz", UL_PER_FLUID_OUNCE, "gallon", "floz", "fluid ounce", "fluid ounces"),
        **spellings("L", Fraction(UL_PER_LITRE), "litre", "litre", "litres", "liter", "liters"),
        **spellings("mL", Fraction(1000), "litre", "millilitre", "millilitres", "milliliter", "milliliters"),
        **spellings("\u00b5L", Fraction(1), "litre", "ul"),
    },
    follows={},
    choices="gal, qt, pt, fl oz, L or mL",
    example="1 gal 8 fl oz or 750 mL",
)


@dataclass(frozen=True, slots=True)
class Volume:
    """A volume and the text it was typed as."""

    ul: int
    typed: str


def parse_volume(
    text: object, *, default_unit: str | None = None, allow_zero: bool = False, field: str = "volume"
) -> Volume:
    """Read a volume such as `1 gal`, `2 qt 8 fl oz` or `750 mL`, rounded half-even to the microlitre.

    Raises:
        Invalid: not a volume, negative, or above 100 000 L.
    """
    entry = typed(text, field, VOLUMES.example)
    value = read(entry, VOLUMES, default_unit)
    return Volume(whole(entry, value, "volume", _MOST, allow_zero=allow_zero), entry.text)


def volume(ul: int) -> str:
    """Print in both systems to four figures: `1 gal (3.785 L)`, `8 fl oz (236.6 mL)`."""
    if ul < 0:
        return "\u2212" + volume(-ul)
    us = ("gal", UL_PER_GALLON) if ul >= round(UL_PER_GALLON) else ("fl oz", UL_PER_FLUID_OUNCE)
    metric = ("L", UL_PER_LITRE) if ul >= UL_PER_LITRE else ("mL", 1000)
    return f"{figures_text(ul / us[1], 4)} {us[0]} ({figures_text(Fraction(ul, metric[1]), 4)} {metric[0]})"

"""Masses in whole milligrams; a typed pound is rounded half-even and its text kept."""

from dataclasses import dataclass
from fractions import Fraction

from shop.shared.units.measures import Measure, figures_text, read, spellings, whole
from shop.shared.units.typed import typed

MG_PER_KG = 1_000_000
MG_PER_LB = Fraction(45_359_237, 100)  # 453.59237 g exactly: NIST Handbook 44, Appendix C
MG_PER_OZ = MG_PER_LB / 16
_MOST = (100_000 * MG_PER_KG, "100 000 kg (220 000 lb)")

MASSES = Measure(
    units={
        **spellings("lb", MG_PER_LB, "pound", "lbs", "#", "pound", "pounds"),
        **spellings("oz", MG_PER_OZ, "pound", "ounce", "ounces"),
        **spellings("kg", Fraction(MG_PER_KG), "gram", "kilogram", "kilograms"),
        **spellings("g", Fraction(1000), "gram", "gram", "grams"),
        **spellings("mg", Fraction(1), "gram", "milligram", "milligrams"),
    },
    follows={"lb": "oz"},
    choices="lb, oz, kg, g or mg",
    example="3 lb 3.7 oz or 1.47 kg",
)


@dataclass(frozen=True, slots=True)
class Mass:
    """A mass and the text it was typed as."""

    mg: int
    typed: str


def parse_mass(
    text: object, *, default_unit: str | None = None, allow_zero: bool = False, field: str = "weight"
) -> Mass:
    """Read a mass such as `213.6 lb`, `3 lb 3.7 oz` or `1,47 kg`, rounded half-even to the milligram.

    Raises:
        Invalid: not a mass, negative, or above 100 000 kg.
    """
    entry = typed(text, field, MASSES.example)
    value = read(entry, MASSES, default_unit)
    return Mass(whole(entry, value, "weight", _MOST, allow_zero=allow_zero), entry.text)


def mass_lb(mg: int, *, figures: int = 4) -> str:
    """Print as pounds to so many significant figures: `213.6 lb`."""
    if mg < 0:
        return "\u2212" + mass_lb(-mg, figures=figures)
    return f"{figures_text(mg / MG_PER_LB, figures)} lb"


def mass_lb_oz(mg: int) -> str:
    """Print as a scale in the shop shows it, to a tenth of an ounce: `2 lb 1 oz`, `15.5 oz`."""
    if mg < 0:
        return "\u2212" + mass_lb_oz(-mg)
    pounds, tenths = divmod(round(10 * mg / MG_PER_OZ), 160)
    ounces = f"{tenths / 10:g} oz" if tenths or not pounds else ""
    return " ".join(part for part in (f"{pounds} lb" if pounds else "", ounces) if part)


def mass_kg(mg: int, *, figures: int = 4) -> str:
    """Print as kilograms to so many significant figures: `96.89 kg`."""
    if mg < 0:
        return "\u2212" + mass_kg(-mg, figures=figures)
    return f"{figures_text(Fraction(mg, MG_PER_KG), figures)} kg"

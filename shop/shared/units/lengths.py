"""Lengths in whole nanometres: one sixty-fourth of an inch is 396 875 nm exactly."""

from dataclasses import dataclass
from fractions import Fraction

from shop.shared.units.measures import Measure, decimal_text, grouped, read, spellings, whole
from shop.shared.units.typed import typed

NM_PER_MM = 1_000_000
NM_PER_INCH = 25_400_000  # the inch is 25.4 mm exactly: NIST Handbook 44, Appendix C
NM_PER_FOOT = 12 * NM_PER_INCH
NM_PER_SIXTY_FOURTH = 396_875
_MOST = (100_000 * NM_PER_MM, "100 m (328 ft)")

LENGTHS = Measure(
    units={
        **spellings("ft", Fraction(NM_PER_FOOT), "inch", "'", "foot", "feet"),
        **spellings("in", Fraction(NM_PER_INCH), "inch", '"', "inch", "inches"),
        **spellings("m", Fraction(1000 * NM_PER_MM), "metre", "metre", "metres", "meter", "meters"),
        **spellings("cm", Fraction(10 * NM_PER_MM), "metre"),
        **spellings("mm", Fraction(NM_PER_MM), "metre"),
    },
    follows={"ft": "in"},
    choices="ft, in, mm, cm or m",
    example="12 ft 3 1/2 in or 94.5 mm",
)


@dataclass(frozen=True, slots=True)
class Length:
    """A length and the text it was typed as."""

    nm: int
    typed: str


def parse_length(
    text: object,
    *,
    default_unit: str | None = None,
    allow_zero: bool = False,
    exact: bool = True,
    field: str = "length",
) -> Length:
    """Read a length such as `12' 3 1/2"`, `2-1/4 in`, `18 ft 10`, `94,5 mm` or `6.09 m`.

    Args:
        text: what was typed, up to 40 characters.
        default_unit: ft, in, m, cm or mm for a bare number; without it a bare number is refused.
        allow_zero: whether nought is a length here.
        exact: refuse what is not a whole number of nanometres (1/7 in); otherwise round it half-even.
        field: the field's name, for the sentence.

    Raises:
        Invalid: not a length, negative, above 100 m, or not exact.
    """
    entry = typed(text, field, LENGTHS.example)
    value = read(entry, LENGTHS, default_unit)
    nm = whole(entry, value, "length", _MOST, allow_zero=allow_zero)
    if exact and value.denominator != 1:
        near = Fraction(round(value / NM_PER_SIXTY_FOURTH) * NM_PER_SIXTY_FOURTH)
        sixty_fourths = f"{length_inches(int(near))} or " if near else ""
        raise entry.refuse(f"cannot be kept exactly: write {sixty_fourths}{decimal_text(value / NM_PER_MM, 6)} mm")
    return Length(nm, entry.text)


def length_inches(nm: int, *, feet: bool = True) -> str:
    """Print as `12 ft 3 1/2 in` when exact in sixty-fourths, otherwise `12 ft 3.472 in`, with a ≈ if that is rounded.

    With `feet=False` all of it is inches, as sections are named: `13 1/2 in`.
    """
    if nm < 0:
        return "\u2212" + length_inches(-nm, feet=feet)
    if nm % NM_PER_SIXTY_FOURTH:
        nearest = round(Fraction(nm * 1000, NM_PER_INCH))
        mark = "" if nearest * NM_PER_INCH == nm * 1000 else "\u2248 "
        whole_feet, rest = divmod(nearest, 12_000) if feet else (0, nearest)
        inches = decimal_text(Fraction(rest, 1000), 3)
        parts = ""
    else:
        mark = ""
        whole_feet, rest = divmod(nm // NM_PER_SIXTY_FOURTH, 12 * 64) if feet else (0, nm // NM_PER_SIXTY_FOURTH)
        count, over = divmod(rest, 64)
        inches = grouped(str(count)) if count else ""
        parts = str(Fraction(over, 64)) if over else ""
    written = " ".join(text for text in (inches, parts) if text and text != "0")
    feet_text = f"{grouped(str(whole_feet))} ft" if whole_feet else ""
    inch_text = f"{written} in" if written else ("" if whole_feet else "0 in")
    return mark + " ".join(text for text in (feet_text, inch_text) if text)


def as_taped(nm: int) -> str:
    """Print as the tape that gave it: feet and inches where it is whole sixty-fourths, otherwise millimetres.

    No metric bar is shown in thousandths of an inch that nobody measured.
    """
    return length_mm(nm) if nm % NM_PER_SIXTY_FOURTH else length_inches(nm)


def length_mm(nm: int) -> str:
    """Print as millimetres to the nearest tenth, `3 746.5 mm`, thousands set apart by thin spaces."""
    if nm < 0:
        return "\u2212" + length_mm(-nm)
    if 0 < nm < NM_PER_MM // 20:
        return "under 0.1 mm"
    return f"{decimal_text(Fraction(nm, NM_PER_MM), 1)} mm"


def both(nm: int, *, metric_first: bool | None = None) -> str:
    """Print in both systems: `12 ft 3 1/2 in (3 746.5 mm)`; what is no whole sixty-fourth, millimetres first."""
    if metric_first is None:
        metric_first = nm % NM_PER_SIXTY_FOURTH != 0
    pair = (length_mm(nm), length_inches(nm)) if metric_first else (length_inches(nm), length_mm(nm))
    return f"{pair[0]} ({pair[1]})"

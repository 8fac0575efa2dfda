"""Theoretical weights of bar: area of the section times length times density, in whole milligrams."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from shop.shared.units import MG_PER_LB, NM_PER_INCH

# Mathematical constants to 40 places, far below a milligram on any bar.
PI: Final = Fraction(Decimal("3.1415926535897932384626433832795028841972"))
ROOT_2: Final = Fraction(Decimal("1.4142135623730950488016887242096980785697"))
ROOT_3: Final = Fraction(Decimal("1.7320508075688772935274463415058723669428"))

# 7.85 g/cm³, 0.2836 lb/in³. Source: 7.85 as printed on the silversteels.net round-bar chart; the khmetals.com
# cold-finished hexagon table fits 0.2836. Only the value a new grade begins with: density is a field of the grade.
DENSITY_UG_PER_CM3: Final = 7_850_000
# 0.2833 lb/in³, 40.80 lb per square foot and inch of thickness. Source: the convention behind the bushwickmetals.com
# formulas; the acmetals.com alloy01 table (4142 HR rounds) fits it within 0.03 %.
DENSITY_CONVENTION_LB_PER_IN3: Final = Fraction(2833, 10_000)

MOST_SIZE_NM: Final = 2_000_000_000  # 2 m, above any bar a small forge can lift
MOST_LENGTH_NM: Final = 100_000_000_000  # 100 m, the longest length that can be typed
LEAST_DENSITY: Final = 1_000_000  # 1 g/cm³; everything forged is denser
MOST_DENSITY: Final = 25_000_000  # 25 g/cm³; no metal is denser
_NM3_PER_CM3: Final = 10**21
_UG_PER_MG: Final = 1000


class Shape(StrEnum):
    """The section of a bar."""

    ROUND = "round"
    SQUARE = "square"
    HEXAGON = "hexagon"
    OCTAGON = "octagon"
    FLAT = "flat"


# Area of a section one across: diameter, side, or distance across flats. Source: plane geometry.
_AREA_OF_ONE: Final = {
    Shape.ROUND: PI / 4,
    Shape.SQUARE: Fraction(1),
    Shape.HEXAGON: ROOT_3 / 2,
    Shape.OCTAGON: 2 * (ROOT_2 - 1),
}


@dataclass(frozen=True, slots=True)
class Section:
    """The section of a bar.

    Args:
        shape: round, square, hexagon, octagon or flat.
        size_nm: diameter, side, distance across flats, or thickness of a flat, nm; 1 to 2 m.
        width_nm: width of a flat, nm, 1 to 2 m; 0 for every other shape.

    Raises:
        ValueError: unknown shape, a size out of range, or a width where there is none.
    """

    shape: Shape
    size_nm: int
    width_nm: int = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "shape", Shape(self.shape))
        _within("size_nm", self.size_nm, 1, MOST_SIZE_NM)
        if self.shape is Shape.FLAT:
            _within("width_nm", self.width_nm, 1, MOST_SIZE_NM)
        elif self.width_nm != 0:
            raise ValueError(f"width_nm is for flats only, not for {self.shape.value}")


def area_nm2(section: Section) -> Fraction:
    """Area of the section.

    Returns:
        Square nanometres, exact for squares and flats, to 40 places of the constants otherwise. Sharp corners.

    Source:
        Plane geometry: round π/4 d², hexagon √3/2 f², octagon 2(√2 - 1) f², f across flats.
    """
    if section.shape is Shape.FLAT:
        return Fraction(section.size_nm * section.width_nm)
    return _AREA_OF_ONE[section.shape] * section.size_nm**2


def mass_mg(section: Section, length_nm: int, density_ug_per_cm3: int = DENSITY_UG_PER_CM3) -> int:
    """Theoretical mass of a straight length of bar.

    Args:
        section: the section at nominal size.
        length_nm: nm; 0 to 100 m.
        density_ug_per_cm3: µg/cm³; 1 000 000 to 25 000 000 (7.85 g/cm³ is 7 850 000).

    Returns:
        Milligrams, rounded half-even once.

    Raises:
        ValueError: a length or density out of range.
    """
    _within("length_nm", length_nm, 0, MOST_LENGTH_NM)
    return round(_mg_per_nm(section, density_ug_per_cm3) * length_nm)


def mass_per_length(section: Section, density_ug_per_cm3: int = DENSITY_UG_PER_CM3) -> int:
    """Theoretical mass of one metre of bar.

    Args:
        section: the section at nominal size.
        density_ug_per_cm3: µg/cm³; 1 000 000 to 25 000 000.

    Returns:
        Milligrams per metre, rounded half-even. For the mass of a length call `mass_mg`, which rounds only once.

    Raises:
        ValueError: a density out of range.
    """
    return round(_mg_per_nm(section, density_ug_per_cm3) * 10**9)


def length_for_mass(section: Section, mass_mg: int, density_ug_per_cm3: int = DENSITY_UG_PER_CM3) -> int:
    """Shortest length of bar that holds at least a mass, as for the stock of a forging.

    Args:
        section: the section at nominal size.
        mass_mg: mg; 0 or more.
        density_ug_per_cm3: µg/cm³; 1 000 000 to 25 000 000.

    Returns:
        Nanometres, rounded up so that the length is never short of the mass.

    Raises:
        ValueError: a mass or density out of range, or more than 100 m of bar.
    """
    if mass_mg < 0:
        raise ValueError(f"mass_mg must be 0 or more, not {mass_mg}")
    length_nm = -(-mass_mg // _mg_per_nm(section, density_ug_per_cm3))
    if length_nm > MOST_LENGTH_NM:
        raise ValueError(f"{mass_mg} mg would be more than 100 m of this section")
    return length_nm


def density_from_lb_per_in3(lb_per_in3: Fraction) -> int:
    """Convert a density as US tables print it.

    Args:
        lb_per_in3: lb/in³; about 0.04 to 0.90 (0.2836 for plain carbon steel).

    Returns:
        µg/cm³, rounded half-even.

    Raises:
        ValueError: the density is outside 1 to 25 g/cm³.

    Source:
        The pound as 453.59237 g and the inch as 25.4 mm, both exact.
    """
    ug_per_in3 = lb_per_in3 * MG_PER_LB * _UG_PER_MG
    density = round(ug_per_in3 * _NM3_PER_CM3 / NM_PER_INCH**3)
    _within("density_ug_per_cm3", density, LEAST_DENSITY, MOST_DENSITY)
    return density


def _mg_per_nm(section: Section, density_ug_per_cm3: int) -> Fraction:
    """Exact mass of one nanometre of bar."""
    _within("density_ug_per_cm3", density_ug_per_cm3, LEAST_DENSITY, MOST_DENSITY)
    return area_nm2(section) * density_ug_per_cm3 / (_NM3_PER_CM3 * _UG_PER_MG)


def _within(name: str, value: int, least: int, most: int) -> None:
    """Refuse a value out of range, and anything but a whole number."""
    if type(value) is not int:
        raise ValueError(f"{name} must be a whole number, not {value!r}")
    if not least <= value <= most:
        raise ValueError(f"{name} must be from {least} to {most}, not {value}")

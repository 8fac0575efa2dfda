"""Reads and prints lengths, masses, volumes, money and piece counts; everything is kept as whole numbers.

Lengths are nanometres, masses milligrams, volumes microlitres, money the currency's smallest unit. No float is used
anywhere, and every value read carries the text that was typed.
"""

from shop.shared.units.amounts import Money, amount, money, money_exponent, parse_money
from shop.shared.units.lengths import (
    NM_PER_FOOT,
    NM_PER_INCH,
    NM_PER_MM,
    NM_PER_SIXTY_FOURTH,
    Length,
    as_taped,
    both,
    length_inches,
    length_mm,
    parse_length,
)
from shop.shared.units.masses import MG_PER_KG, MG_PER_LB, MG_PER_OZ, Mass, mass_kg, mass_lb, mass_lb_oz, parse_mass
from shop.shared.units.pieces import parse_whole, plain_number
from shop.shared.units.shares import parse_percent_ppm, parse_tenths
from shop.shared.units.volumes import (
    UL_PER_FLUID_OUNCE,
    UL_PER_GALLON,
    UL_PER_LITRE,
    UL_PER_QUART,
    Volume,
    parse_volume,
    volume,
)

__all__ = [
    "MG_PER_KG",
    "MG_PER_LB",
    "MG_PER_OZ",
    "NM_PER_FOOT",
    "NM_PER_INCH",
    "NM_PER_MM",
    "NM_PER_SIXTY_FOURTH",
    "UL_PER_FLUID_OUNCE",
    "UL_PER_GALLON",
    "UL_PER_LITRE",
    "UL_PER_QUART",
    "Length",
    "Mass",
    "Money",
    "Volume",
    "amount",
    "as_taped",
    "both",
    "length_inches",
    "length_mm",
    "mass_kg",
    "mass_lb",
    "mass_lb_oz",
    "money",
    "money_exponent",
    "parse_length",
    "parse_mass",
    "parse_money",
    "parse_percent_ppm",
    "parse_tenths",
    "parse_volume",
    "parse_whole",
    "plain_number",
    "volume",
]

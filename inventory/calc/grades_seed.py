"""The thirteen grades a shop begins with: their limits by document and edition, and their densities.

Everything here is what editable tables begin with, never a limit the program insists on. The texts of the standards
were seen through copies, so every row names the copy.
"""

from dataclasses import dataclass
from typing import Final

from inventory.calc.grade_limits import NOT_STATED, GradeLimits, Limit, Standing, limits
from inventory.calc.steel import DENSITY_UG_PER_CM3

A29: Final = "ASTM A29/A29M"
A576: Final = "ASTM A576"
A681: Final = "ASTM A681"
A686: Final = "ASTM A686"
J403: Final = "SAE J403"
AISI_SAE: Final = "AISI/SAE list"
O1_SHEET: Final = "AISI O1 data sheet"

_A29_COPY: Final = "ASTM A29 table of carbon grades as copied at boltport.com and adfastcomponents.com"
_A576_COPY: Final = "ASTM A576-90b(2006) Table 1, copy scribd 453218806"
_STOCKIST: Final = "summitsteel.com, chemical ranges of AISI/SAE carbon grades"

SILICON_NOTE: Final = (
    "No silicon limit in the grade itself; when ordered, commonly 0.10 at most, 0.10 to 0.20, 0.15 to 0.35 "
    "(most common) or 0.20 to 0.40 (ASTM A576-90b note A)."
)
EDITIONS_5160: Final = "Two upper carbon limits are in circulation, 0.64 and 0.61: look at the edition named."
PHOSPHORUS_W1: Final = "Copies disagree on phosphorus and sulphur: 0.030 or 0.025."
SUFFIX_W1: Final = "Carbon is bought by suffix; the range here is that of the whole type."
MISPRINTS: Final = {
    "O1": "A mill sheet in circulation prints manganese 1.40 to 1.80; that is taken for a misprint.",
    "S7": "A sheet in circulation prints chromium to 6.50; that is taken for a misprint.",
    "H13": "A newer edition may allow manganese to 0.60 (from memory, not looked up).",
}
_CARRIED_NOTE: Final = (
    "Phosphorus 0.030 was seen for the rows 1025 to 1037 of this edition; carbon, manganese and sulphur are those of "
    "the AISI/SAE list. Compare with the document before a certificate is refused on it."
)

# What silicon is ordered as in a carbon grade, most common first. Source: ASTM A576-90b(2006) note A.
SILICON_AS_ORDERED: Final = (
    *limits("Si .15-.35"),
    *limits("Si .10"),
    *limits("Si .10-.20"),
    *limits("Si .20-.40"),
)
# Carbon of W1 by the suffix it is bought with. Source: theworldmaterial.com W1 (ASTM A686).
W1_CARBON_BY_SUFFIX: Final[dict[str, Limit]] = {
    "8": limits("C .80-.90")[0],
    "9": limits("C .90-1.00")[0],
    "9.5": limits("C .95-1.05")[0],
    "10": limits("C 1.00-1.10")[0],
    "10.5": limits("C 1.05-1.15")[0],
    "11": limits("C 1.10-1.20")[0],
}


@dataclass(frozen=True, slots=True)
class SeedGrade:
    """A grade and its density in µg/cm³ with where it was published."""

    code: str
    density_ug_per_cm3: int
    density_source: str


_CONVENTION: Final = "no figure of its own published: 7.85 g/cm³, the convention of bar-weight tables"

# Source: per grade, beside the figure.
GRADES: Final = (
    *(
        SeedGrade(code, DENSITY_UG_PER_CM3, _CONVENTION)
        for code in ("1045", "1060", "1075", "1080", "1084", "1095", "4140", "4340", "5160")
    ),
    SeedGrade("W1", 7_840_000, "theworldmaterial.com W1: 7.84 g/cm³, 0.282 lb/in³"),
    SeedGrade("O1", DENSITY_UG_PER_CM3, _CONVENTION),
    SeedGrade("S7", 7_760_000, "theworldmaterial.com S7: 7.76 g/cm³, 0.280 lb/in³"),
    SeedGrade("H13", 7_800_000, "jademetals.co.uk H13: 7.80 g/cm³, 0.282 lb/in³"),
)

# Carbon and manganese; phosphorus and sulphur differ by document. Source: AISI/SAE list and ASTM A576-90b(2006).
_CARBON_GRADES: Final = {
    "1045": "C .43-.50 Mn .60-.90",
    "1060": "C .55-.65 Mn .60-.90",
    "1075": "C .70-.80 Mn .40-.70",
    "1080": "C .75-.88 Mn .60-.90",
    "1084": "C .80-.93 Mn .60-.90",
    "1095": "C .90-1.03 Mn .30-.50",
}
_IN_A576: Final = ("1045", "1060", "1080", "1084", "1095")  # 1075 is marked "SAE only" in the AISI/SAE list
_NOTE_1080: Final = "A copy of the ASTM A29 table prints carbon 0.70 to 0.88."


def _carbon(grade: str, document: str, edition: str, source: str) -> GradeLimits:
    """Make the row of a carbon grade with P 0.040 and S 0.050."""
    note = f"{SILICON_NOTE} {_NOTE_1080}" if grade == "1080" else SILICON_NOTE
    row = limits(f"{_CARBON_GRADES[grade]} P .040 S .050")
    return GradeLimits(grade, document, edition, row, source, note=note)


def _carried(grade: str) -> GradeLimits:
    """Make the row of a carbon grade in SAE J403 NOV01: P 0.030, the rest carried over."""
    row = limits(f"{_CARBON_GRADES[grade]} P .030 S .050")
    source = "Handbook of Comparative World Steel Standards 2.1, copy 123doc 2141926, with the AISI/SAE list"
    return GradeLimits(grade, J403, "NOV01", row, source, Standing.CARRIED, f"{_CARRIED_NOTE} {SILICON_NOTE}")


_CARBON_ROWS: Final = (
    _carbon("1045", A29, "16", "ASTM A29/A29M-16 Table 1, copy scribd 552194454"),
    *(_carbon(grade, A29, NOT_STATED, _A29_COPY) for grade in ("1045", "1060", "1075", "1084")),
    *(_carbon(grade, A576, "90b(2006)", _A576_COPY) for grade in _IN_A576),
    *(_carbon(grade, AISI_SAE, NOT_STATED, _STOCKIST) for grade in _CARBON_GRADES),
    *(_carried(grade) for grade in _CARBON_GRADES),
)

_ALLOY_ROWS: Final = (
    GradeLimits(
        "4140",
        AISI_SAE,
        NOT_STATED,
        limits("C .38-.43 Mn .75-1.00 P .035 S .040 Si .15-.35 Cr .80-1.10 Mo .15-.25"),
        "turretsteel.com alloy heat ranges; C, Mn, Cr and Mo again in industrialheating.com blog 88040",
    ),
    GradeLimits(
        "4340",
        A29,
        NOT_STATED,
        limits("C .38-.43 Mn .60-.80 P .035 S .040 Si .15-.35 Cr .70-.90 Ni 1.65-2.00 Mo .20-.30"),
        "doubleeaglealloys.com 4340, limits per ASTM A29",
    ),
    GradeLimits(
        "5160",
        A29,
        NOT_STATED,
        limits("C .56-.64 Mn .75-1.00 P .035 S .040 Si .15-.35 Cr .70-.90"),
        "waldunsteel.com 5160, chemical composition per ASTM A29",
        note=EDITIONS_5160,
    ),
    GradeLimits(
        "5160",
        AISI_SAE,
        NOT_STATED,
        limits("C .56-.61 Mn .75-1.00 P .035 S .040 Si .15-.35 Cr .70-.90"),
        "theworldmaterial.com 5160 (G51600)",
        note=EDITIONS_5160,
    ),
)

_W1: Final = "C .70-1.50 Mn .10-.40 P {0} S {0} Si .10-.40 Cr .15 Ni .20 Mo .10 V .10 W .15 Cu .20"
_TOOL_ROWS: Final = (
    GradeLimits(
        "W1",
        A686,
        NOT_STATED,
        limits(_W1.format(".030")),
        "theworldmaterial.com W1, ASTM A686",
        note=f"{SUFFIX_W1} {PHOSPHORUS_W1}",
    ),
    GradeLimits(
        "W1",
        A686,
        f"{NOT_STATED}, copy with P and S 0.025",
        limits(_W1.format(".025")),
        "azom.com 6144 and makeitfrom.com W1, ASTM A686, for P and S; the rest as theworldmaterial.com W1",
        Standing.CARRIED,
        note=f"{SUFFIX_W1} {PHOSPHORUS_W1}",
    ),
    GradeLimits(
        "O1",
        O1_SHEET,
        NOT_STATED,
        limits("C .85-1.00 Mn 1.00-1.40 P .030 S .030 Si .50 Cr .40-.60 V .30 W .40-.60"),
        "kmac-distribution.com O1",
        note=MISPRINTS["O1"],
    ),
    GradeLimits(
        "S7",
        A681,
        NOT_STATED,
        limits("C .45-.55 Mn .20-.90 P .030 S .030 Si .20-1.00 Cr 3.00-3.50 Mo 1.30-1.80 V .35"),
        "theworldmaterial.com S7, ASTM A681",
        note=MISPRINTS["S7"],
    ),
    GradeLimits(
        "H13",
        A681,
        NOT_STATED,
        limits("C .32-.45 Mn .20-.50 P .030 S .030 Si .80-1.20 Cr 4.75-5.50 Mo 1.10-1.75 V .80-1.20"),
        "diamondmetals.com H13, ASTM A681; otaisteel.com H13 (T20813)",
        note=MISPRINTS["H13"],
    ),
)

ROWS: Final[tuple[GradeLimits, ...]] = (*_CARBON_ROWS, *_ALLOY_ROWS, *_TOOL_ROWS)

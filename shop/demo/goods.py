"""Invented items: six patterns in three grades, inch and metric bars, handles, consumables and tools."""

from dataclasses import dataclass

GOGGLES = (
    "Wear goggles, bystanders too. Never strike hardened steel or another hammer. Square blows only. "
    "Throw it away if chipped, cracked, mushroomed or loose."
)
FORGING_HAMMER = GOGGLES + " Dress the edges cool; never re-harden, grind hot or weld."
STRUCK_TOOL = GOGGLES + " Grind mushroomed edges off before they fly."

# code, density in micrograms per cubic centimetre (7.85 g/cm3 is the usual bar-weight convention)
GRADES = (("1045", 7_850_000), ("4140", 7_850_000), ("1060", 7_850_000))


@dataclass(frozen=True, slots=True)
class BarKind:
    """A bar as it is bought: its blank's length and the reorder point in whole bars of the usual length."""

    key: str
    grade: str
    shape: str
    size: str
    usual: str
    keep: int


BARS = (
    BarKind("r158-4140", "4140", "round", "1 5/8 in", "20 ft", 3),
    BarKind("r2-4140", "4140", "round", "2 in", "20 ft", 2),
    BarKind("s134-1045", "1045", "square", "1 3/4 in", "20 ft", 2),
    BarKind("r45-1045", "1045", "round", "45 mm", "6 m", 2),
    BarKind("s1-1060", "1060", "square", "1 in", "12 ft", 2),
    BarKind("r12-1045", "1045", "round", "12 mm", "6 m", 4),
)


@dataclass(frozen=True, slots=True)
class PatternKind:
    """A pattern: its head, blank, handle and tool; masses typed as a smith would; prices in minor units."""

    code: str
    name: str
    bar: str
    blank: str
    handle: str | None
    eye: str
    shipped: str
    retail: int
    dealer: int
    share: int
    caution: str
    head: str
    tooling: str


PATTERNS = (
    PatternKind(
        "CP2",
        "cross peen 2 lb",
        "r158-4140",
        "3 7/8 in",
        "HA16",
        "1 x 3/4",
        "3 lb",
        11800,
        8200,
        28,
        FORGING_HAMMER,
        "2 lb",
        "T2",
    ),
    PatternKind(
        "RH25",
        "rounding hammer 2 1/2 lb",
        "s134-1045",
        "3 1/4 in",
        "HA16",
        "1 x 3/4",
        "3 lb 10 oz",
        15400,
        10800,
        24,
        FORGING_HAMMER,
        "2 lb 8 oz",
        "T2",
    ),
    PatternKind(
        "SP15",
        "straight peen 1 1/2 lb",
        "r45-1045",
        "62 mm",
        "HA14",
        "7/8 x 5/8",
        "2 lb 6 oz",
        10600,
        7400,
        18,
        FORGING_HAMMER,
        "1 lb 8 oz",
        "T4",
    ),
    PatternKind(
        "SL4",
        "hand sledge 4 lb",
        "r2-4140",
        "5 1/16 in",
        "HA18",
        "1 1/8 x 7/8",
        "5 lb 4 oz",
        13900,
        9700,
        10,
        FORGING_HAMMER,
        "4 lb",
        "",
    ),
    PatternKind(
        "HC",
        "hot cut, handled",
        "s1-1060",
        "4 in",
        "HA14",
        "7/8 x 5/8",
        "2 lb",
        7800,
        5500,
        10,
        STRUCK_TOOL,
        "1 lb",
        "T4",
    ),
    PatternKind(
        "TG", "flat-jaw tongs", "r12-1045", "420 mm", None, "", "1 lb 12 oz", 8800, 6200, 10, GOGGLES, "12 oz", ""
    ),
)

# code, name, eye, reorder point, dozens per order, price of a dozen
HANDLES = (
    ("HA14", "handle 14 in", "7/8 x 5/8", 24, 3, 5400),
    ("HA16", "handle 16 in", "1 x 3/4", 48, 6, 6000),
    ("HA18", "handle 18 in", "1 1/8 x 7/8", 12, 2, 6900),
)


@dataclass(frozen=True, slots=True)
class Consumable:
    """Something used up: unit, how it is bought, what one week uses, both in the item's own unit."""

    code: str
    name: str
    unit: str
    buy: str
    per_buy: int
    opening: int
    weekly: int
    point: int
    buys: int
    supplier: str
    price: int


_LB = 453_592
_GAL = 3_785_412
CONSUMABLES = (
    Consumable("WW", "wood wedge", "piece", "bag", 100, 260, 42, 100, 2, "Wold-and-Ashby Handles", 900),
    Consumable("SW", "steel wedge", "piece", "bag", 100, 310, 40, 100, 2, "Tallow Lane Supply", 1600),
    Consumable("BELT36", "grinding belt, 36 grit", "piece", "box", 10, 23, 3, 10, 1, "Tallow Lane Supply", 7200),
    Consumable("BELT120", "grinding belt, 120 grit", "piece", "box", 10, 16, 2, 8, 1, "Tallow Lane Supply", 7000),
    Consumable("BELT220", "grinding belt, 220 grit", "piece", "box", 10, 14, 1, 6, 1, "Tallow Lane Supply", 7400),
    Consumable("FLAP", "flap disc", "piece", "box", 10, 18, 2, 6, 1, "Tallow Lane Supply", 4800),
    Consumable("BLADE", "saw blade", "piece", "blade", 1, 5, 1, 2, 2, "Tallow Lane Supply", 4100),
    Consumable("GAS", "propane", "mg", "bottle", 40 * _LB, 160 * _LB, 58 * _LB, 80 * _LB, 3, "Fenside Gas", 4600),
    Consumable(
        "QOIL", "quench oil", "ul", "pail", 5 * _GAL, 9 * _GAL, _GAL // 3, 4 * _GAL, 1, "Tallow Lane Supply", 9800
    ),
    Consumable(
        "LOIL", "boiled linseed oil", "ul", "gallon", _GAL, 2 * _GAL, _GAL // 4, _GAL, 2, "Tallow Lane Supply", 3400
    ),
    Consumable(
        "GLUE", "wood glue", "ul", "quart", _GAL // 4, _GAL // 2, _GAL // 30, _GAL // 8, 1, "Tallow Lane Supply", 1500
    ),
    Consumable("WAX", "paste wax", "mg", "tin", _LB, 3 * _LB, _LB // 6, _LB, 2, "Tallow Lane Supply", 1900),
    Consumable("BOXS", "small box", "piece", "bundle", 25, 140, 24, 50, 3, "Tallow Lane Supply", 2600),
    Consumable("BOXL", "large box", "piece", "bundle", 25, 60, 7, 25, 2, "Tallow Lane Supply", 3900),
    Consumable("TAPE", "packing tape", "piece", "roll", 1, 9, 1, 3, 6, "Tallow Lane Supply", 500),
    Consumable("TAG", "warning tag", "piece", "roll", 250, 420, 55, 120, 1, "Tallow Lane Supply", 3100),
)
SHEETS = {
    "QOIL": "https://sheets.example/quench-oil",
    "LOIL": "https://sheets.example/linseed-oil",
    "GAS": "https://sheets.example/propane",
    "GLUE": "https://sheets.example/glue",
}

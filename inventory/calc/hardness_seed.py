"""Published hardness after tempering, soak times of tool steels, and hardness of hammers: editable, with sources."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Scale(StrEnum):
    """What a hardness or strength is measured in."""

    HRC = "HRC"
    HB = "HB"
    MPA = "MPa"


@dataclass(frozen=True, slots=True)
class TemperPoint:
    """What one temper leaves in one published trial.

    Args:
        grade: the grade's designation.
        temper: temperature as printed, in `degrees`; None for as quenched.
        degrees: C or F.
        least, most: whole points of `scale`; equal where one figure is printed.
        scale: HRC, HB or MPa (tensile).
        trial: section, quench and whatever else the source says of it; empty where it says nothing.
        source: where the figure was seen.
    """

    grade: str
    temper: int | None
    degrees: str
    least: int
    most: int
    scale: Scale
    trial: str
    source: str


@dataclass(frozen=True, slots=True)
class Soak:
    """How long a grade is tempered.

    Args:
        grade: the grade's designation.
        minutes_per_inch: minutes for each inch of thickness; per 25.4 mm where the source is metric.
        times: how many tempers.
        least_minutes: never shorter than this; 0 where the source sets none.
        words: what else the source asks for.
        source: where it was seen.
    """

    grade: str
    minutes_per_inch: int
    times: int
    least_minutes: int
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class ToolHardness:
    """What a document asks of a part of a tool, whole points HRC; no least where only a most is set."""

    part: str
    least_hrc: int | None
    most_hrc: int
    document: str
    source: str


def _row(
    grade: str, degrees: str, scale: Scale, trial: str, source: str, points: dict[int | None, tuple[int, int] | int]
) -> tuple[TemperPoint, ...]:
    """Make the points of one published row."""
    pairs = {at: found if isinstance(found, tuple) else (found, found) for at, found in points.items()}
    return tuple(TemperPoint(grade, at, degrees, *pair, scale, trial, source) for at, pair in pairs.items())


# Source: per row, its last text. 4140 shows how far published trials scatter: 1 965 and 1 772 MPa at the same temper.
TEMPER_POINTS: Final[tuple[TemperPoint, ...]] = (
    *_row("4140", "C", Scale.HRC, "1 in round, oil, surface", "matweb 4140 205 °C", {None: 55, 205: 55}),
    *_row("4140", "C", Scale.HB, "1 in round, oil", "matweb 4140 205 °C", {205: 578}),
    *_row("4140", "C", Scale.MPA, "1 in round, oil", "matweb 4140 205 °C", {205: 1965}),
    *_row("4140", "C", Scale.MPA, "", "efunda 4140", {205: 1772, 315: 1551, 425: 1248, 540: 951, 650: 758}),
    *_row("4140", "F", Scale.HB, "", "pmpa.org heat-treat blog", {800: 397, 900: 367, 1000: 335, 1100: 305, 1200: 256}),
    *_row("4340", "F", Scale.HRC, "1 in", "metalmartusa.com 4340", {800: 44, 1000: 38, 1200: 30}),
    *_row(
        "1045",
        "C",
        Scale.HRC,
        "C45E, 10 mm round, water from 850 °C; a 2 in face quenches softer and shallower",
        "Lucefin C45E technical card (EN 10083-2:2006)",
        {100: 58, 200: 57, 300: 52, 400: 43},
    ),
    *_row(
        "1045",
        "C",
        Scale.HRC,
        "C45U, obtainable; hardened depth 3 to 5 mm only",
        "meusburger.com C45U/1045",
        {None: 58},
    ),
    *_row(
        "S7",
        "F",
        Scale.HRC,
        "air from 1775 °F",
        "easterntoolsteel.com S7",
        {300: 59, 400: 57, 500: 55, 600: 54, 700: 53, 800: 53, 900: 52, 1000: 51, 1100: 47},
    ),
    *_row(
        "O1",
        "F",
        Scale.HRC,
        "",
        "artmetal.com O1 (UMBA newsletter)",
        {350: (62, 64), 400: (60, 63), 500: (58, 60), 600: (55, 57)},
    ),
    *_row("H13", "F", Scale.HRC, "to 1000 °F", "diamondmetals.com H13", {1000: (53, 54), 1100: 46}),
)

# Source: per row, its last text.
SOAKS: Final[tuple[Soak, ...]] = (
    Soak("O1", 120, 1, 0, "Temper at once after hardening.", "startoolsupply.com O1"),
    Soak(
        "S7",
        120,
        2,
        0,
        "Harden in air to 150 °F and temper at once; the second temper is a must.",
        "buffaloprecision.com S7",
    ),
    Soak("H13", 120, 2, 0, "Two hours for each inch is the least.", "diamondmetals.com H13"),
    Soak("1045", 76, 1, 120, "180 to 300 °C, 1 h for each 20 mm, at once after hardening.", "meusburger.com C45U/1045"),
)

# Source: per row, its last text. The shop's own window lies inside both the ASME and the DIN figures.
TOOL_HARDNESS: Final[tuple[ToolHardness, ...]] = (
    ToolHardness("striking face", 45, 60, "ASME B107.54-2001 4.3.1", "excerpt diyq.net 3039"),
    ToolHardness("face of a woodchopper's maul", 44, 55, "ASME B107.54-2001 4.3.2", "excerpt diyq.net 3039"),
    ToolHardness("peen, at least 0.50 in back", 45, 60, "ASME B107.54-2001 4.3.3", "excerpt diyq.net 3039"),
    ToolHardness("ball peen hammer, both ends", 45, 60, "ASME B107.53-2004 4.3", "excerpt diyq.net 3042"),
    ToolHardness("struck wrench", None, 44, "ASME B107.59-2002 4.3", "excerpts"),
    ToolHardness("face and peen", 52, 58, "DIN 1193 as reported", "DGUV Information 209-001 2.3"),
    ToolHardness("eye zone", None, 30, "DIN 1193 as reported", "DGUV Information 209-001 2.3"),
    ToolHardness("face of a forging hammer", 52, 55, "shop window", "inside the ASME and DIN figures above"),
)

"""Invented people, suppliers and customers."""

from dataclasses import dataclass

# name, log-in, role, on the tablet
PEOPLE = (
    ("Hale", "hale", "owner", True),
    ("Wren", "wren", "desk", True),
    ("Ines", "ines", "hand", True),
    ("Marek", "marek", "hand", True),
    ("Joss", "joss", "hand", True),
)


@dataclass(frozen=True, slots=True)
class Firm:
    """A supplier: usual days to deliver, and how many of 100 deliveries come late."""

    name: str
    email: str
    days: int
    late_of_100: int
    claim_days: int | None = None


SUPPLIERS = (
    Firm("Quillmere Steel", "orders@quillmere.example", 6, 15, 5),
    Firm("Wold-and-Ashby Handles", "mill@wold-and-ashby.example", 12, 25),
    Firm("Tallow Lane Supply", "desk@tallow-lane.example", 4, 10),
    Firm("Fenside Gas", "yard@fenside-gas.example", 2, 5),
)


@dataclass(frozen=True, slots=True)
class Buyer:
    """A dealer: how often an order comes, in days, and how many tools it is about."""

    name: str
    email: str
    address: str
    every_days: int
    about: int


DEALERS = (
    Buyer("Tarn & Thrupp", "buying@tarn-thrupp.example", "Tarn & Thrupp\n4 Quay Row\nAldermere", 9, 14),
    Buyer("Bramblewick Farrier Supply", "stock@bramblewick.example", "Bramblewick\nOld Station Yard\nNetherby", 12, 10),
    Buyer("Ottershaw-Pell", "tools@ottershaw-pell.example", "Ottershaw-Pell\n19 Fuller Street\nGreat Ousel", 16, 18),
    Buyer("Marsh & Daughter", "shop@marsh-daughter.example", "Marsh & Daughter\nThe Old Forge\nLittle Wick", 11, 8),
)

ONE_OFF = (
    ("R. Tallis", "r.tallis@post.example", "R. Tallis\n2 Sallow Close\nDunmere"),
    ("P. Ivergreen", "ivergreen@post.example", "P. Ivergreen\n81 Hob Lane\nThaxby"),
    ("M. Quennell", "quennell@post.example", "M. Quennell\nMill House\nUpper Ousel"),
    ("S. Dunmarsh", "dunmarsh@post.example", "S. Dunmarsh\n7 Smithy Row\nAldermere"),
    ("A. Farrowby", "farrowby@post.example", "A. Farrowby\nFlat 3, 12 Dyers Street\nNetherby"),
    ("L. Hatherly", "hatherly@post.example", "L. Hatherly\nRush Cottage\nThaxby"),
    ("T. Oskell", "oskell@post.example", "T. Oskell\n30 Lock Street\nGreat Ousel"),
    ("J. Wainfleet", "wainfleet@post.example", "J. Wainfleet\n5 Chapel Bank\nDunmere"),
    ("K. Braddle", "braddle@post.example", "K. Braddle\nEnd Barn\nLittle Wick"),
    ("D. Selwick", "selwick@post.example", "D. Selwick\n16 Weir Road\nAldermere"),
)

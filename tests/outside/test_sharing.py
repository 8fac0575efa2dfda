"""Shares by the largest remainder against apportionments that were published: Hamilton's method on the census of 1790."""

from orders.calc.sharing import Claim, proportional

CENSUS_1790 = {
    "Virginia": 630_560,
    "Massachusetts": 475_327,
    "Pennsylvania": 432_879,
    "North Carolina": 353_523,
    "New York": 331_589,
    "Maryland": 278_514,
    "Connecticut": 236_841,
    "South Carolina": 206_236,
    "New Jersey": 179_570,
    "New Hampshire": 141_822,
    "Vermont": 85_533,
    "Georgia": 70_835,
    "Kentucky": 68_705,
    "Rhode Island": 68_446,
    "Delaware": 55_540,
}
"""Populations for apportionment. Source: Electowiki, "Hamilton method", worked example of 1790."""
SIXTY = {
    "Virginia": 11, "Massachusetts": 8, "Pennsylvania": 7, "North Carolina": 6, "New York": 6, "Maryland": 5,
    "Connecticut": 4, "South Carolina": 3, "New Jersey": 3, "New Hampshire": 2, "Vermont": 1, "Georgia": 1,
    "Kentucky": 1, "Rhode Island": 1, "Delaware": 1,
}  # fmt: skip
"""Sixty seats. Source: the same example, its final apportionment."""
HUNDRED_AND_TWENTY = {
    "New Jersey": 6, "Virginia": 21, "Connecticut": 8, "South Carolina": 7, "Delaware": 2, "Vermont": 3,
    "Massachusetts": 16, "North Carolina": 12, "New Hampshire": 5, "Pennsylvania": 14, "Georgia": 2, "Kentucky": 2,
    "Rhode Island": 2, "Maryland": 9, "New York": 11,
}  # fmt: skip
"""The bill of 1792 with 120 seats. Source: COMAP, For All Practical Purposes, 10th edition, chapter 14, example 6,
table 14.5.
"""


def seats(number: int) -> dict[str, int]:
    """Let each state want as many pieces as it has people, and share so many seats among them."""
    names = list(CENSUS_1790)
    shares = proportional([Claim(place, CENSUS_1790[name], place) for place, name in enumerate(names)], number)
    return {name: shares[place] for place, name in enumerate(names)}


def test_sixty_seats_fall_as_published() -> None:
    assert sum(CENSUS_1790.values()) == 3_615_920
    assert seats(60) == SIXTY


def test_the_bill_of_1792_with_a_hundred_and_twenty_seats_falls_as_published() -> None:
    assert seats(120) == HUNDRED_AND_TWENTY

"""Classes, accuracy of the book and samples against printed figures and exact ones.

Not here, for nothing in the shop looks them up: code letters and plans of ISO 2859-1 (the plans for small lots are from
memory only, and one printed plan, code N at AQL 0.15, is in doubt); their chances of acceptance are.
"""

import math
from fractions import Fraction

import pytest

from inventory.calc.counts import accuracy, sampling, tolerance
from inventory.calc.counts.accuracy import Line
from inventory.calc.value_classes import OFTEN, SELDOM, SOMETIMES, classes

YEAR = {
    "H1": (120, 38.0), "H2": (60, 22.5), "S1": (900, 0.12), "T1": (40, 55.0), "B1": (300, 9.4),
    "W1": (2000, 0.03), "P1": (80, 6.0), "G1": (25, 3.2), "O1": (15, 18.0), "A1": (500, 0.45),
}  # fmt: skip
"""Pieces a year and price: a list of our own. Its classes follow from 80/15/5 (seen at supplychainmetric.com) and from the
share before an item, which is a choice: by the share after it H2 would be of the second class."""


def test_classes_by_yearly_value() -> None:
    yearly = {name: pieces * price for name, (pieces, price) in YEAR.items()}
    assert sum(yearly.values()) == pytest.approx(12_153, abs=1e-9)
    assert classes(yearly) == {
        **dict.fromkeys(("H1", "B1", "T1", "H2"), OFTEN),
        **dict.fromkeys(("P1", "O1"), SOMETIMES),
        **dict.fromkeys(("A1", "S1", "G1", "W1"), SELDOM),
    }
    assert sorted(yearly, key=lambda name: -yearly[name]) == [
        "H1",
        "B1",
        "T1",
        "H2",
        "P1",
        "O1",
        "A1",
        "S1",
        "G1",
        "W1",
    ]


@pytest.mark.parametrize(("counted", "share"), [(OFTEN, 0.0), (SOMETIMES, 0.0), (SELDOM, 1.0)])
def test_two_errors_that_cancel_are_two_errors(counted: str, share: float) -> None:
    """Records 100 and 100, counts 95 and 105. Source: supplychainmetric.com (tolerances and example seen; that 5 is within 5
    in 100 is implied by the printed result).
    """
    off = tolerance.allowed(100, counted)
    lines = [Line(100, 95, off), Line(100, 105, off)]
    assert sum(one.count - one.book for one in lines) == 0
    found = accuracy.accuracy(lines)
    assert found is not None
    assert found.share == share


def test_57_right_of_60_do_not_prove_95_in_100() -> None:
    """Exact binomial figures, worked out with scipy."""
    found = accuracy.accuracy([Line(10, 10, 0)] * 57 + [Line(10, 11, 0)] * 3)
    assert found is not None
    assert found.share == pytest.approx(0.95)
    assert (found.low, found.high) == pytest.approx((0.8629948352365148, 0.9828504978356044), abs=1e-9)
    assert found.least == pytest.approx(0.8758127895225639, abs=1e-9)
    assert not found.proven


def test_how_many_right_lines_prove_a_share() -> None:
    """Ln 0.05 / ln share: 59 and 299; 0.95^58 = 0.05105."""
    assert (sampling.look_at(0.95), sampling.look_at(0.99)) == (59, 299)
    assert accuracy.sure(59, 59) >= 0.95 > accuracy.sure(58, 58)
    assert accuracy.sure(299, 299) >= 0.99 > accuracy.sure(298, 298)


@pytest.mark.parametrize(
    ("seen", "most", "chances"),
    [
        (8, 0, (0.9227446944279201, 0.6634204312890625, 0.43046721, 0.16777215999999998)),
        (13, 1, (0.9927510563220648, 0.8645761402602192, 0.6213449802582001, 0.23364622090240017)),
    ],
)
def test_chances_that_a_delivery_passes(seen: int, most: int, chances: tuple[float, ...]) -> None:
    """Binomial, worked out with scipy, at 1, 5, 10 and 20 bad in 100."""
    for share, expected in zip((0.01, 0.05, 0.10, 0.20), chances, strict=True):
        assert sampling.accepted(seen, most, share) == pytest.approx(expected, abs=1e-12)


def test_a_lot_of_30_with_3_bad_passes_eight_good_ones_in_38_of_100() -> None:
    """C(27, 8) / C(30, 8)."""
    assert sampling.accepted_of(30, 3, 8, 0) == pytest.approx(0.37931034482758613, abs=1e-12)


def test_how_many_of_a_gross_of_handles() -> None:
    """By exact fractions: the product over those seen of good ones left over all left."""
    none_seen, many = Fraction(1), 0
    while none_seen > Fraction(5, 100):
        none_seen *= Fraction(144 - 15 - many, 144 - many)
        many += 1
    assert sampling.look_at_of(144, 15) == many
    assert math.isclose(sampling.accepted_of(144, 15, many, 0), none_seen)

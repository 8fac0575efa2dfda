"""A balance adds up: whatever the parts, their masses and quantities are those of what came."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.balance import split

PARTS = st.dictionaries(st.sampled_from("abcdefgh"), st.integers(-(10**9), 10**10), max_size=8)


@given(mass=st.integers(0, 10**13), parts=PARTS)
def test_the_parts_are_the_whole(mass: int, parts: dict[str, int]) -> None:
    made = split(mass, parts)
    assert sum(part.mass_mg for part in made.parts) == (mass if made.parts else 0)
    assert sum(part.qty for part in made.parts) == made.qty == sum(parts.values())


@given(mass=st.integers(1, 10**12), parts=st.dictionaries(st.sampled_from("abcd"), st.integers(1, 10**9), min_size=1))
def test_each_part_is_within_a_milligram_of_its_share(mass: int, parts: dict[str, int]) -> None:
    whole = sum(parts.values())
    for part in split(mass, parts).parts:
        assert abs(part.mass_mg - mass * part.qty / whole) <= 1 + mass * 1e-15


def test_what_the_tape_found_more_takes_its_mass_from_nowhere() -> None:
    made = {part.name: part.mass_mg for part in split(1_000, {"rack": 1_010, "more": -10}).parts}
    assert made == {"rack": 1_010, "more": -10}


def test_nothing_that_came_is_nothing() -> None:
    assert split(0, {}).parts == ()
    assert split(5, {}).parts[0].name == "unexplained"


def test_a_negative_mass_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match="received_mg"):
        split(-1, {})

"""A balance adds up: whatever the parts, their masses and quantities are those of what came."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.balance import discrepancy, figures, split, together
from shop.shared.units import MG_PER_KG, MG_PER_LB

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


@given(
    stages=st.lists(st.dictionaries(st.sampled_from("abcd"), st.integers(-(10**9), 10**12), min_size=1), min_size=1),
    again=st.integers(0, 10**9),
)
def test_laid_together_nothing_is_counted_twice_and_nothing_is_lost(stages: list[dict[str, int]], again: int) -> None:
    name = next(iter(stages[0]))
    found = together(stages, {name: again})
    assert sum(found.values()) == sum(sum(stage.values()) for stage in stages) - again
    assert 0 not in found.values()


def test_what_no_stage_names_cannot_be_found_again() -> None:
    assert together([{"rack": 5}], {"in blanks": 0}) == {"rack": 5}
    with pytest.raises(ValueError, match="in blanks"):
        together([{"rack": 5}], {"in blanks": 1})


@given(
    scale=st.integers(0, 10**12), made=st.integers(0, 10**12), step=st.integers(0, 10**9), tape=st.integers(0, 10**9)
)
def test_a_difference_shows_only_beyond_half_a_step_and_the_tape(scale: int, made: int, step: int, tape: int) -> None:
    found = discrepancy(scale, made, step_mg=step, tape_mg=tape)
    assert found.off_mg == scale - made
    assert found.shows == (2 * abs(scale - made) > 2 * tape + step + step % 2)
    assert found.figures(MG_PER_LB) >= 1


@pytest.mark.parametrize(
    ("off_kg", "sure_g", "figures"), [(3, 500, 2), (32, 500, 3), (3, 2_000, 1), (3, 20_000, 1), (3, 20, 3)]
)
def test_no_figure_is_printed_that_scale_and_tape_cannot_know(off_kg: int, sure_g: int, figures: int) -> None:
    found = discrepancy(off_kg * MG_PER_KG, 0, step_mg=0, tape_mg=sure_g * 1_000)
    assert found.figures(MG_PER_KG) == figures


def test_a_negative_weight_is_no_weight() -> None:
    with pytest.raises(ValueError, match="masses"):
        discrepancy(-1, 0, step_mg=0, tape_mg=0)


@pytest.mark.parametrize(
    ("pounds", "wanted"), [("599.6", 4), ("15.78", 3), ("0.5556", 1), ("0.0111", 1), ("0", 1), ("-23.67", 3)]
)
def test_a_weight_is_printed_down_to_a_tenth(pounds: str, wanted: int) -> None:
    value = round(Fraction(pounds) * MG_PER_LB)
    assert figures(value, MG_PER_LB / 10, MG_PER_LB) == wanted
    with pytest.raises(ValueError, match="unit"):
        figures(value, 1, 0)

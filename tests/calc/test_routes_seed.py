"""The seed routes hold together: what goes back goes to a step that is there, losses scale as one, and the book can take them."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.routes_seed import (
    FREE_HAND,
    HANDLES,
    MILLION,
    SERIES,
    SeedCause,
    SeedStep,
    good_ppm,
    losses,
)
from inventory.models import Item, Machine, Step, StepCause

MG_PER_LB = 453_592.37
HEADS = pytest.mark.parametrize("route", [FREE_HAND, SERIES], ids=["free-hand", "in series"])
ALL = pytest.mark.parametrize("route", [FREE_HAND, SERIES, HANDLES], ids=["free-hand", "in series", "handles"])
CAUSES = st.builds(SeedCause, st.just("x"), st.integers(1_000, 20_000)) | st.builds(
    SeedCause, st.just("x"), st.integers(1, 2_000), rework_to=st.just(1)
)
ROUTES = st.lists(
    st.builds(
        SeedStep, st.just(1), st.just("x"), st.just("forge"), causes=st.lists(CAUSES, min_size=1, max_size=3).map(tuple)
    ),
    min_size=2,
    max_size=8,
).filter(lambda route: all(step.loss_ppm for step in route))


def _whole_good(route: Sequence[SeedStep]) -> float:
    """The share of started heads that come good in the end; what is worked over counts as good."""
    return math.prod(1 - step.loss_ppm / MILLION for step in route)


def step_of(route: Sequence[SeedStep], name: str) -> SeedStep:
    return next(step for step in route if step.name == name)


@ALL
def test_steps_are_numbered_upwards_from_one_and_named_once(route: Sequence[SeedStep]) -> None:
    assert [step.number for step in route] == list(range(1, len(route) + 1))
    assert len({step.name for step in route}) == len(route)


@ALL
def test_what_is_worked_over_goes_back_to_an_earlier_step(route: Sequence[SeedStep]) -> None:
    assert all(1 <= c.rework_to < step.number for step in route for c in step.causes if c.rework_to is not None)


@HEADS
def test_a_soft_face_is_hardened_again_and_a_wrong_temper_tempered_again(route: Sequence[SeedStep]) -> None:
    work = {step.number: step.work for step in route}
    back = {c.name: work[c.rework_to] for step in route for c in step.causes if c.rework_to is not None}
    assert back == {"soft face": "harden", "over or under temper": "temper"}


@HEADS
def test_every_loss_is_found_where_pieces_are_counted(route: Sequence[SeedStep]) -> None:
    assert all(step.counting_point for step in route if step.causes)
    assert "quench crack" in {cause.name for cause in step_of(route, "tempered and checked").causes}


@HEADS
def test_steps_of_the_tool_follow_those_of_the_head_and_a_split_handle_takes_no_head(route: Sequence[SeedStep]) -> None:
    stages = [step.stage for step in route]
    assert stages == sorted(stages), "head before tool"
    hafted = step_of(route, "hafted")
    assert (hafted.stage, hafted.loss_ppm, good_ppm(hafted)) == ("tool", 0, MILLION)
    assert hafted.causes == step_of(losses(route, new=True), "hafted").causes, "a new pattern splits no more handles"


@ALL
def test_the_book_can_hold_every_column(route: Sequence[SeedStep]) -> None:
    longest, cause_longest, code_longest = (
        model._meta.get_field(name).max_length for model, name in ((Step, "name"), (StepCause, "name"), (Machine, "code"))
    )  # fmt: skip
    for step in route:
        assert step.work in Step.Work.values
        assert step.stage in Step.Stage.values
        assert len(step.name) <= longest
        assert all(len(code) <= code_longest and code == code.upper() for code in step.machines)
        names = [cause.name for cause in step.causes]
        assert len(set(names)) == len(names)
        assert all(len(name) <= cause_longest for name in names)
        assert not any(cause.handle_only and (cause.second or cause.rework_to) for cause in step.causes)
        assert step.work != "temper" or (step.temperature_dc and step.soak_minutes)


@ALL
def test_what_is_used_up_is_named_once_a_step_in_units_of_the_book(route: Sequence[SeedStep]) -> None:
    for step in route:
        assert len({use.what for use in step.uses}) == len(step.uses)
        assert all(use.per_hundred >= 1 and use.unit in Item.Unit.values for use in step.uses)


@HEADS
def test_a_head_takes_one_to_three_pounds_of_gas_and_a_belt_lasts_twelve_heads_or_more(
    route: Sequence[SeedStep],
) -> None:
    """Common practice, no source."""
    gas = sum(use.per_hundred for step in route for use in step.uses if use.what == "propane")
    assert 1 <= gas / 100 / MG_PER_LB <= 3
    belts = [use.per_hundred for step in route for use in step.uses if use.what.endswith("belt")]
    assert len(belts) == 3
    assert all(100 / belts_of_a_hundred >= 12 for belts_of_a_hundred in belts)


def test_free_hand_work_burns_more_gas_a_head() -> None:
    """Common practice, no source."""
    first, second = (
        sum(use.per_hundred for step in route for use in step.uses if use.what == "propane")
        for route in (FREE_HAND, SERIES)
    )
    assert first > second


@ALL
def test_losses_of_a_new_pattern_are_the_known_ones_all_larger_by_one_factor(route: Sequence[SeedStep]) -> None:
    known = [c.loss_ppm for step in losses(route) for c in step.causes if not c.handle_only]
    new = [c.loss_ppm for step in losses(route, new=True) for c in step.causes if not c.handle_only]
    factors = [more / less for more, less in zip(new, known, strict=True)]
    assert max(factors) - min(factors) < 0.001
    assert min(factors) > 1.8


@ALL
def test_scaling_twice_is_scaling_once_within_the_rounding_of_a_cause(route: Sequence[SeedStep]) -> None:
    once = losses(route)
    for before, after in zip(once, losses(once), strict=True):
        assert before == replace(after, causes=before.causes)
        assert all(abs(a.loss_ppm - b.loss_ppm) <= 1 for a, b in zip(before.causes, after.causes, strict=True))


@given(ROUTES, st.booleans())
def test_any_route_is_scaled_to_the_wanted_share_within_half_a_part_per_million_a_cause(
    route: list[SeedStep], new: bool
) -> None:
    scaled = losses(route, new=new)
    wanted = 0.85 if new else 0.92
    assert abs(_whole_good(scaled) - wanted) <= sum(len(step.causes) for step in route) / 2 / MILLION + 1e-12


@pytest.mark.parametrize("shares", [(1, 1), (400_000, 300_000), (1_000_000, 1), (900_000,) * 6])
def test_tiny_and_huge_losses_are_scaled_as_well(shares: tuple[int, ...]) -> None:
    """By hand, for the first: two points that lose alike let .92 past when each lets the root of it past, .959166."""
    route = [SeedStep(n, f"{n}", "forge", causes=(SeedCause("x", share),)) for n, share in enumerate(shares, start=1)]
    assert _whole_good(losses(route)) == pytest.approx(0.92, abs=4e-6)
    assert _whole_good(losses(route, new=True)) == pytest.approx(0.85, abs=4e-6)
    if shares == (1, 1):
        assert [step.loss_ppm for step in losses(route)] == [40_834] * 2


@pytest.mark.parametrize(
    "causes",
    [(), (SeedCause("soft face", 5, rework_to=1),), (SeedCause("lost", 1), SeedCause("soft face", 500, rework_to=1))],
    ids=["none", "worked over only", "worked over a lot"],
)
def test_a_route_whose_losses_cannot_be_scaled_is_refused(causes: tuple[SeedCause, ...]) -> None:
    with pytest.raises(ValueError):
        losses([SeedStep(1, "x", "forge", causes=causes)])


def test_the_check_alone_finds_but_does_not_lose() -> None:
    """Without what hardening caused, the check lets every head past: the act of checking costs none."""
    check = step_of(SERIES, "tempered and checked")
    assert good_ppm(replace(check, causes=())) == MILLION

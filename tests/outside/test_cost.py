"""First in, first out, against worked examples, and the rule for usual and unusual losses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.fifo_cost import Layer, after_losses, per_piece, take


def book(events: list[tuple[str, int, int]]) -> tuple[int, int]:
    """Book deliveries (pieces, price of one) and takes; return the cost of all takes and of what is left."""
    layers: list[Layer] = []
    taken = 0
    for what, qty, price in events:
        if what == "in":
            layers.append(Layer(qty, qty * price))
        else:
            done = take(layers, qty)
            taken, layers = taken + done.cost, list(done.left)
    return taken, sum(layer.cost for layer in layers)


@pytest.mark.parametrize(
    ("events", "taken", "left"),
    [
        # OpenStax, Principles of Accounting volume 1, chapter 10 (inputs and answers from memory): 7,200 and 8,955 dollars
        ([("in", 150, 2100), ("out", 120, 0), ("in", 225, 2700), ("out", 180, 0), ("in", 210, 3300)], 720_000, 895_500),
        # Alabama Learning Exchange, problem B-08.05 (seen): 96 left
        ([("in", 10, 1000), ("in", 5, 1100), ("out", 6, 0), ("in", 8, 1200), ("out", 9, 0)], 15_500, 9_600),
        # an exercise at edu.com, 468579 (statement seen, values computed): 4,200 and 10,900
        ([("in", 300, 500), ("in", 500, 900), ("out", 600, 0), ("in", 910, 1000)], 420_000, 1_090_000),
    ],
)
def test_what_came_first_goes_first(events: list[tuple[str, int, int]], taken: int, left: int) -> None:
    assert book(events) == (taken, left)


def test_a_reject_beyond_the_usual_is_kept_apart() -> None:
    """13 heads at 14.20, two rejects of which one is usual: 14.20 apart, 170.40 for eleven (own example, by hand)."""
    borne = after_losses(18_460, 13, 11, 1)
    assert (borne.good, borne.apart) == (17_040, 1_420)
    assert after_losses(18_460, 13, 12, 1).apart == 0
    assert after_losses(18_460, 13, 0, 1) == after_losses(18_460, 13, 0, 0)
    assert after_losses(18_460, 13, 0, 1).apart == 18_460


def test_a_hundred_over_three_pieces_comes_out_to_the_cent() -> None:
    """33.34, 33.33, 33.33 by the largest remainder (common practice, no source)."""
    assert sorted(per_piece(10_000, 3), reverse=True) == [3334, 3333, 3333]


layers = st.lists(st.builds(Layer, st.integers(1, 50), st.integers(0, 10_000)), min_size=1, max_size=6)


@given(there=layers, takes=st.lists(st.integers(0, 40), max_size=8))
def test_nothing_is_created_or_lost_however_it_is_taken(there: list[Layer], takes: list[int]) -> None:
    whole, left, taken = sum(one.cost for one in there), list(there), 0
    for qty in takes:
        done = take(left, min(qty, sum(one.qty for one in left)))
        taken, left = taken + done.cost, list(done.left)
    assert taken + sum(one.cost for one in left) == whole


@given(cost=st.integers(0, 10**9), started=st.integers(1, 200), good=st.integers(0, 200), usual=st.integers(0, 20))
def test_what_is_borne_and_what_is_apart_come_to_the_cost(cost: int, started: int, good: int, usual: int) -> None:
    borne = after_losses(cost, started, min(good, started), usual)
    assert borne.good + borne.apart == cost
    assert min(borne.good, borne.apart) >= 0


@pytest.mark.parametrize(
    "wrong",
    [lambda: Layer(-1, 0), lambda: Layer(0, 5), lambda: take([Layer(3, 9)], 4), lambda: after_losses(1, 0, 0, 0)],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(ValueError, match="."):
        wrong()

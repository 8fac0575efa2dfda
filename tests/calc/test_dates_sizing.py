"""Runs of the date calculator are sized as the reject allowance sizes them, from one table a route."""

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.calc import starts
from orders.calc.dates import sizing
from orders.calc.dates.route import Step

counted = st.builds(
    lambda number, good, bad, rework: Step(number, "counted", good=good, bad=bad, rework=rework),
    st.just(1), st.sampled_from([2.5, 46.0, 90.0]), st.sampled_from([0.5, 4.0, 10.0]), st.sampled_from([0.0, 0.3]),
)  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(
    needed=st.integers(1, 70), sure=st.sampled_from([0.5, 0.8, 0.95]), route=st.lists(counted, min_size=1, max_size=3)
)
def test_a_run_is_as_large_as_the_reject_allowance_says(needed: int, sure: float, route: list[Step]) -> None:
    steps = [Step(n, one.name, good=one.good, bad=one.bad, rework=one.rework) for n, one in enumerate(route, 1)]
    ahead = sizing.points(steps, 0)
    found = starts.starts(needed, sure, ahead, most=max(200, 4 * needed))
    count = sizing.start_for(needed, ahead, sure)
    assert count == (found.count if found else starts.plain(needed, ahead).count)
    good = sizing.sure_good(count, ahead, sure)
    assert starts.chance(count, good, ahead) >= sure - 1e-9
    assert starts.chance(count, good + 1, ahead) < sure

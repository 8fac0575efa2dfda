"""What is drawn at random in property tests: small numbers, because faults live at the edges of small numbers."""

from hypothesis import strategies as st

few = st.integers(1, 6)
"""So many pieces."""

some = st.integers(1, 12)
"""So many pieces of a lot that comes in."""

which = st.integers(0, 11)
"""Picks one of what is there, counted round."""

lines = st.lists(st.tuples(which, few), min_size=1, max_size=3)
"""Lines of an order: which item, how many."""

orders = st.lists(lines, min_size=1, max_size=4)
"""Orders of an ordinary morning."""

minutes = st.sampled_from([1, 2, 15])
seconds = st.sampled_from([1, 59, 60, 61, 120, 900, 86_400])
"""Steps of the clock that land on, before and after the end of such a hold."""


yes = st.booleans()
"""One way or the other."""

outcomes = st.sampled_from(["first", "second", "re-haft", "replaced", "scrap"])
"""What inspection may decide."""

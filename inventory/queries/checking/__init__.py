"""Recomputes the stock book from its movements and names every row that differs.

A row is named by the number or code that people know it by, else by its table's word and its id.
"""

from collections.abc import Iterator

from inventory.queries.checking.book import differences as in_book
from inventory.queries.checking.buying import differences as in_buying
from inventory.queries.checking.closes import differences as in_closes
from inventory.queries.checking.counters import differences as in_counters
from inventory.queries.checking.cut_plans import differences as in_cut_plans
from inventory.queries.checking.cuts import differences as in_cuts
from inventory.queries.checking.lots import differences as in_lots
from inventory.queries.checking.runs import differences as in_runs
from inventory.queries.checking.span import WHOLE, Span, since_close

__all__ = ["WHOLE", "Span", "differences", "since_close"]


def differences(span: Span = WHOLE) -> Iterator[str]:
    """Yield one sentence for each row of the stock tables that does not agree with the movements."""
    yield from in_book(span)
    yield from in_counters(span)
    yield from in_lots(span)
    yield from in_cuts(span)
    yield from in_cut_plans()
    yield from in_runs(span)
    yield from in_buying(span)
    yield from in_closes(span)

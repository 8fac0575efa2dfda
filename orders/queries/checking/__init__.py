"""Checks that the order book agrees with itself and with what the stock book has set aside and moved."""

from collections.abc import Iterator

from inventory.queries.checking import WHOLE, Span
from orders.queries.checking.days import differences as in_days
from orders.queries.checking.lines import differences as in_lines
from orders.queries.checking.orders import differences as in_orders
from orders.queries.checking.releases import differences as in_releases
from orders.queries.checking.returns import differences as in_returns
from orders.queries.checking.setting_aside import differences as in_setting_aside
from orders.queries.checking.shipments import differences as in_shipments


def differences(span: Span = WHOLE) -> Iterator[str]:
    """Yield one sentence for each row of the order tables that does not agree."""
    yield from in_orders()
    yield from in_lines()
    yield from in_days()
    yield from in_releases()
    yield from in_setting_aside()
    yield from in_shipments(span)
    yield from in_returns(span)

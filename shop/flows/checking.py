"""The book's own check over both apps: what differs, each row named."""

from collections.abc import Iterator

from inventory.queries import checking as stock
from orders.queries import checking as order_book
from shop.shared import audit
from shop.shared.snapshot import one_moment


def check_book(*, whole: bool = False) -> list[str]:
    """Return one sentence for each difference; an empty list means that the book agrees with itself.

    Movements are read since the last close of a month, or from the first one on where `whole` says so or none was closed.
    """
    with one_moment():
        return list(_differences(stock.WHOLE if whole else stock.since_close()))


def _differences(span: stock.Span) -> Iterator[str]:
    yield from stock.differences(span)
    yield from order_book.differences(span)
    yield from audit.verify(since=span.booked_from)

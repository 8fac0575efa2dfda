"""The book's own check over both apps: what differs, each row named."""

from inventory.queries import checking as stock
from orders.queries import checking as order_book
from shop.shared import audit


def check_book() -> list[str]:
    """Return one sentence for each difference; an empty list means that the book agrees with itself."""
    return [*stock.differences(), *order_book.differences(), *audit.verify()]

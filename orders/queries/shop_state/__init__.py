"""The shop as the book knows it, told to the date calculator."""

from orders.queries.shop_state.stating import Named, Stated, state

__all__ = ["Named", "Stated", "state"]

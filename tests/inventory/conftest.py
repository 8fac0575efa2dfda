"""After each test that asks for it, the book must agree with itself."""

from collections.abc import Iterator

import pytest

from shop.flows import checking


@pytest.fixture
def book_agrees(db: None) -> Iterator[None]:
    """Recompute the whole book from its movements when the test is over."""
    yield
    assert checking.check_book() == []

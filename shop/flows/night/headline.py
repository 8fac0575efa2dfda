"""The subject and the first sentence of a night: the news itself, not that there is some."""

from collections.abc import Sequence

from shop.flows.night import words
from shop.flows.night.body import Part

ORDER = (
    "book",
    "temper",
    "order",
    "slips",
    "rejects",
    "today",
    "let_go",
    "tell",
    "late",
    "make",
    "one_off",
    "not_done",
)
MOST_PIECES = 3  # of the subject; a phone shows about forty characters of it
NOTHING = "Nothing to order, nothing late"


def subject(parts: Sequence[Part]) -> str:
    """Return the news in up to three pieces, the gravest first."""
    pieces = [part.said for part in parts]
    return words.capital("; ".join(pieces[:MOST_PIECES])) if pieces else NOTHING


def lead(parts: Sequence[Part], *, balanced: bool) -> str:
    """Return the one sentence that counts everything."""
    pieces = [part.counted for part in parts] or ["nothing to order, nothing late, nothing to send"]
    if balanced:
        pieces.append("the book balances")
    return words.capital(", ".join(pieces)) + "."

"""The subject and the first sentence of a night: the news itself, not that there is some."""

from collections.abc import Sequence

from shop.flows.night import words
from shop.flows.night.body import Part

NAMES = {
    "book": "the book’s own check",
    "temper": "hardened and not tempered",
    "order": "what to order",
    "dry": "what runs dry",
    "slips": "orders that slip",
    "rejects": "rejects beyond chance",
    "today": "today: to send, to come, holds that end, what is dry",
    "let_go": "said on the phone and let go",
    "tell": "customers to tell",
    "late": "late deliveries",
    "papers": "certificates awaited",
    "make": "what to make",
    "one_off": "orders counted as one-off",
    "not_done": "what the night could not do",
}
"""What each part is about, the gravest first."""

ORDER = tuple(NAMES)
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

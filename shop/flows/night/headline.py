"""The subject and the first sentence of a night: the news itself, not that there is some."""

import datetime as dt
from collections.abc import Sequence

from shop.flows.night import words
from shop.flows.night.body import Line, Part

NAMES = {
    "book": "the book’s own check",
    "temper": "hardened and not tempered",
    "dry": "what runs dry",
    "order": "what to order",
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
_BEFORE_ORDERING = 2 * ORDER.index("order") - 1  # the place of what is lost today, in halves
MOST_PIECES = 3  # of the subject; a phone shows about forty characters of it
NOTHING = "Nothing to order, nothing late"


def place(part: Part, today: dt.date) -> int:
    """Return where a part stands: as the list says, but orders that are late, due today or lost come before ordering."""
    if part.key == "slips" and any(_lost(line, today) for line in part.lines):
        return _BEFORE_ORDERING
    return 2 * ORDER.index(part.key)


def _lost(line: Line, today: dt.date) -> bool:
    day, chance = line.facts.get("day"), line.facts.get("chance_ppm")
    return (isinstance(day, str) and day <= today.isoformat()) or chance == 0


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

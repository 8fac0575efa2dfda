"""A document: the shop's state, how many futures of which seed, and the questions."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from orders.calc.dates.asking import FUTURES
from orders.calc.dates.state import Shop
from orders.calc.dates_json import checks
from orders.calc.dates_json.keys import HOURS, SHOP
from orders.calc.dates_json.loading import Refused, load
from orders.calc.dates_json.questions import Question, question
from orders.calc.dates_json.values import Frame, Key, date, many, maybe_text, plain_object, rows, whole

FEWEST: Final = 100
MOST: Final = 20_000  # ± 0.42 points at 90 % (binomial, nineteen times in twenty); more takes long and says no more
MOST_QUESTIONS: Final = 100  # No source

DOCUMENT: Final[Mapping[str, Key]] = {
    "name": Key("any name, given back (none)", maybe_text),
    "seed": Key("a whole number for what is drawn (0)", whole(0, 10**12)),
    "futures": Key(f"how many are played, {FEWEST} to {MOST} ({FUTURES})", whole(FEWEST, MOST)),
    "questions": Key(
        "what is asked: a list of 1 to 100", many(lambda value, *_: value, MOST_QUESTIONS, least=1)
    ),
    **SHOP,
}  # fmt: skip
NEEDED: Final = ("questions", "hours", "people")


@dataclass(frozen=True, slots=True)
class Asked:
    """A document as it was read; a question that cannot be answered stands as the sentence why.

    `digest` is the SHA-256 of the document with its keys in order and no spaces.
    """

    name: str
    seed: int
    futures: int
    shop: Shop
    questions: tuple[Question | Refused, ...]
    raw: tuple[Any, ...]
    digest: str


def read(text: str) -> Asked:
    """Read a document.

    Args:
        text: JSON of one object.

    Returns:
        What is asked.

    Raises:
        Unreadable: no JSON.
        Refused: a state that cannot be, in one sentence with the place and what would work.
    """
    value = load(text)
    row = rows(value, "", DOCUMENT, NEEDED)
    found = {key: DOCUMENT[key].read(one, key, _frame(row)) for key, one in row.items()}
    checks.own_names(found)
    shop = Shop(**{key: one for key, one in found.items() if key in SHOP})
    known, futures = checks.checked(shop), found.get("futures", FUTURES)
    checks.fits(shop, futures)
    raw = found["questions"]
    questions = tuple(_question(one, f"questions[{at}]", shop, known) for at, one in enumerate(raw))
    return Asked(found.get("name", ""), found.get("seed", 0), futures, shop, questions, raw, digest(value))


def digest(value: Any) -> str:
    """Give the SHA-256 of a value as JSON, keys in order, no spaces, in hexadecimal.

    Source: FIPS 180-4 by Python's hashlib; the order of keys as in RFC 8785, numbers as Python writes them.
    """
    said = json.dumps(value, sort_keys=True, separators=(",", ":"), default=lambda _strange: None)
    return hashlib.sha256(said.encode()).hexdigest()


def _frame(row: Mapping[str, Any]) -> Frame:
    hours = plain_object(row["hours"], "hours", f"one with {', '.join(HOURS)}")
    if "first_day" not in hours:
        raise Refused(f"hours.first_day: missing; {HOURS['first_day'].words} would work.")
    return Frame(date(hours["first_day"], "hours.first_day"))


def _question(value: Any, where: str, shop: Shop, known: frozenset[str]) -> Question | Refused:
    try:
        return question(value, where, shop, known)
    except Refused as wrong:
        return wrong

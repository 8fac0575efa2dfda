"""JSON as it came, before anything is made of it: what is no number and what was written twice is marked."""

import json
import math
from typing import Any, Final

MOST_TEXT: Final = 20_000_000  # characters of a document; No source: twenty times the largest shop tried
MOST_DIGITS: Final = 19  # of a whole number; No source: what counts more is a slip of the pen


class Refused(ValueError):
    """What was sent is JSON but cannot be meant: the place, what is wrong, what would work."""


class Unreadable(Refused):
    """What was sent is no JSON at all."""


class Strange:
    """A number that is none: NaN, endless, or too long to be meant."""


class Twice(dict[str, Any]):
    """An object in which a key was written twice."""

    key = ""


def load(text: str) -> Any:
    """Read JSON.

    Args:
        text: of one document.

    Returns:
        Its value; numbers that are none and keys written twice are marked and refused where they are read.

    Raises:
        Unreadable: no JSON.
    """
    if len(text) > MOST_TEXT:
        raise Unreadable(f"document: longer than {MOST_TEXT} characters; a smaller one would work.")
    try:
        return json.loads(
            text.removeprefix("\ufeff"),
            parse_int=_whole,
            parse_float=_float,
            parse_constant=_none,
            object_pairs_hook=_once,
        )
    except RecursionError as wrong:
        raise Unreadable("document: lists inside lists without end; one as the help shows would work.") from wrong
    except ValueError as wrong:
        raise Unreadable(
            f"document: no JSON ({wrong}); an object as the help shows, one alone or each on a line of its own, would work."
        ) from wrong


def _whole(text: str) -> Any:
    return int(text) if len(text) <= MOST_DIGITS else Strange()


def _float(text: str) -> Any:
    found = float(text)
    return found if math.isfinite(found) else Strange()


def _none(_text: str) -> Any:
    return Strange()


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    row = dict(pairs)
    if len(row) == len(pairs):
        return row
    marked, seen = Twice(row), set[str]()
    for key, _ in pairs:
        marked.key = key if key in seen else marked.key
        seen.add(key)
    return marked

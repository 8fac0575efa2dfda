"""The JSON reader of the API: everything that once broke a service is turned away here, before any serializer.

A lone surrogate in a stored string disabled a whole list for ever, a thousand opening brackets ended in a recursion
failure, and a number of five thousand digits took the processor; each is answered 400 with a sentence instead.
"""

import json
import re
from collections.abc import Iterable
from decimal import Decimal
from typing import IO, Any

from django.http import HttpRequest
from rest_framework.parsers import BaseParser

from shop.shared.errors import Refusal

MOST_BYTES = 1024 * 1024
_TOO_LARGE = "The body is larger than 1 MiB; send it in smaller parts."
MOST_DEPTH = 32
MOST_DIGITS = 40
_MARKS = re.compile(r'"|\\.|[\[\]{}]', re.DOTALL)
_SUSPECT = re.compile(r"\\u(?:0000|[dD][89abABcdefCDEF])")


class Malformed(Refusal):
    """The request cannot be read."""

    code = "malformed"
    status = 400


class TooLarge(Refusal):
    """The body is too large."""

    code = "too_large"
    status = 413


class NotJSON(Refusal):
    """The body is of a kind that is not read here."""

    code = "unsupported_media_type"
    status = 415


class GuardedJSONParser(BaseParser):
    """The parser of every view that is given a body."""

    media_type = "application/json"

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> Any:
        """Read a stream of bytes as guarded JSON."""
        return parse(stream.read(MOST_BYTES + 1))


def read(request: HttpRequest) -> Any:
    """Return the body of a request as JSON; it must say that it is JSON."""
    _check_content_type(request)
    return parse(whole(request, most=MOST_BYTES, sentence=_TOO_LARGE))


def whole(request: HttpRequest, *, most: int, sentence: str) -> bytes:
    """Return the bytes of a body, and never read more of them than may come; what is packed is not unpacked."""
    if request.META.get("HTTP_CONTENT_ENCODING", "identity").lower() != "identity":
        raise NotJSON("The body is compressed; send it without Content-Encoding.")
    if _declared_length(request) > most:
        raise TooLarge(sentence, facts={"most_bytes": most})
    content = request.read(most + 1)
    if len(content) > most:
        raise TooLarge(sentence, facts={"most_bytes": most})
    return content


def parse(raw: bytes) -> Any:
    """Return guarded JSON: UTF-8, at most 32 levels, each name once, no numbers or characters that break a database."""
    if len(raw) > MOST_BYTES:
        raise TooLarge(_TOO_LARGE, facts={"most_bytes": MOST_BYTES})
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise Malformed("The body is not valid UTF-8; send JSON encoded as UTF-8.") from None
    if not text.strip():
        raise Malformed("The body is empty; send a JSON object.")
    if text[0] == "\ufeff":
        raise Malformed("The body starts with a byte order mark; send UTF-8 without one.")
    _check_depth(text)
    try:
        value = json.loads(
            text,
            parse_int=_whole,
            parse_float=_decimal,
            parse_constant=_constant,
            object_pairs_hook=_object,
        )
    except json.JSONDecodeError as problem:
        raise Malformed(f"The body is not JSON: it stops making sense at character {problem.pos + 1}.") from None
    if _SUSPECT.search(text):
        _check_characters(value)
    return value


def _check_content_type(request: HttpRequest) -> None:
    kind, _, rest = request.META.get("CONTENT_TYPE", "").partition(";")
    charset = rest.strip().lower().replace('"', "")
    if kind.strip().lower() != "application/json" or charset not in {"", "charset=utf-8", "charset=utf8"}:
        raise NotJSON("The body must be JSON: send it with Content-Type: application/json.")


def _declared_length(request: HttpRequest) -> int:
    raw = request.META.get("CONTENT_LENGTH") or "0"
    if not (raw.isascii() and raw.isdigit() and len(raw) <= 18):
        raise Malformed("The Content-Length of the request is not a whole number.")
    return int(raw)


def _check_depth(text: str) -> None:
    if text.count("[") + text.count("{") <= MOST_DEPTH:
        return
    depth = 0
    inside = False
    for match in _MARKS.finditer(text):
        mark = match.group()
        if mark == '"':
            inside = not inside
        elif inside or mark[0] == "\\":
            continue
        elif mark in "[{":
            depth += 1
            if depth > MOST_DEPTH:
                raise Malformed(f"The body is nested deeper than {MOST_DEPTH} levels.")
        else:
            depth -= 1


def _whole(digits: str) -> int:
    if len(digits.lstrip("-")) > MOST_DIGITS:
        raise Malformed(f"A number in the body has more than {MOST_DIGITS} digits.")
    return int(digits)


def _decimal(digits: str) -> Decimal:
    mantissa, _, exponent = digits.lower().partition("e")
    if len(mantissa.lstrip("-")) > MOST_DIGITS or len(exponent) > 4 or abs(int(exponent or 0)) > MOST_DIGITS:
        raise Malformed(f"A number in the body has more than {MOST_DIGITS} digits.")
    return Decimal(digits)


def _constant(name: str) -> None:
    raise Malformed(f"The body contains {name}, which is no number in JSON.")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        seen: set[str] = set()
        twice = next(name for name, _ in pairs if name in seen or seen.add(name))  # type: ignore[func-returns-value]
        raise Malformed(f"The body names {_shown(twice)} twice in one object; name it once.")
    return made


def _check_characters(value: Any) -> None:
    for text in _strings(value):
        if "\x00" in text:
            raise Malformed("The body contains the character NUL (\\u0000); leave it out.")
        if any("\ud800" <= letter <= "\udfff" for letter in text):
            raise Malformed("The body contains half of a surrogate pair; send whole characters.")


def _strings(value: Any) -> Iterable[str]:
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, str):
            yield item
        elif isinstance(item, list):
            waiting.extend(item)
        elif isinstance(item, dict):
            waiting.extend(item.keys())
            waiting.extend(item.values())


def _shown(name: str) -> str:
    return "a name" if not name.isprintable() or len(name) > 40 else f"“{name}”"

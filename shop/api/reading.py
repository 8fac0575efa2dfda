"""The reader of query parameters: only what the operation declares, each once, each of its kind."""

import datetime as dt
import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict

from shop.api.refusals import BadParameters

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_INSTANT = re.compile(
    r"\d{4}-\d{2}-\d{2}[Tt ](?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d(?:\.\d{1,6})?(?:[Zz]|[+-](?:[01]\d|2[0-3]):[0-5]\d)",
    re.ASCII,
)
_WHOLE = re.compile(r"[0-9]{1,18}")
EARLIEST_YEAR, LATEST_YEAR = 1970, 2199
"""Instants outside these years overflow in one database or the other."""


class BadValue(ValueError):
    """One value that cannot be used; the text is the sentence for the caller."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One declared query parameter of text."""

    name: str
    words: str
    required: bool = False
    default: Any = None
    longest: int = 200
    example: str = ""

    def read(self, raw: str) -> Any:
        """Return the value, or raise BadValue."""
        if len(raw) > self.longest:
            raise BadValue(f"“{self.name}” is longer than {self.longest} characters.")
        if any(ord(letter) < 32 or ord(letter) == 127 or letter == "\ufffd" for letter in raw):
            raise BadValue(f"“{self.name}” contains a character that cannot be used.")
        return raw

    def schema(self) -> dict[str, Any]:
        """Return the parameter's JSON Schema."""
        return {"type": "string", "minLength": 1, "maxLength": self.longest, "pattern": r"^[^\x00-\x1f\x7f\ufffd]+$"}


@dataclass(frozen=True, slots=True)
class Whole(Parameter):
    """A whole number in a range."""

    low: int = 0
    high: int = 10**9

    def read(self, raw: str) -> int:
        """Return the number, or raise BadValue."""
        if not _WHOLE.fullmatch(raw) or not self.low <= int(raw) <= self.high:
            raise BadValue(f"“{self.name}” must be a whole number from {self.low} to {self.high}.")
        return int(raw)

    def schema(self) -> dict[str, Any]:
        """Return the parameter's JSON Schema."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high} | (
            {} if self.default is None else {"default": self.default}
        )


@dataclass(frozen=True, slots=True)
class Day(Parameter):
    """A calendar day in the shop's zone."""

    def read(self, raw: str) -> dt.date:
        """Return the day, or raise BadValue."""
        return day(raw, self.name)

    def schema(self) -> dict[str, Any]:
        """Return the parameter's JSON Schema."""
        return {"type": "string", "format": "date"}


@dataclass(frozen=True, slots=True)
class Instant(Parameter):
    """A moment with its offset."""

    def read(self, raw: str) -> dt.datetime:
        """Return the moment in UTC, or raise BadValue."""
        return instant(raw, self.name)

    def schema(self) -> dict[str, Any]:
        """Return the parameter's JSON Schema."""
        return {"type": "string", "format": "date-time"}


@dataclass(frozen=True, slots=True)
class Choice(Parameter):
    """One of a few words."""

    choices: tuple[str, ...] = ()

    def read(self, raw: str) -> str:
        """Return the word, or raise BadValue."""
        if raw not in self.choices:
            raise BadValue(f"“{self.name}” must be one of {', '.join(self.choices)}.")
        return raw

    def schema(self) -> dict[str, Any]:
        """Return the parameter's JSON Schema."""
        return {"type": "string", "enum": list(self.choices)}


@dataclass(frozen=True, slots=True)
class Several(Parameter):
    """Several words with commas between them, each once."""

    most: int = 500
    longest: int = 16_000
    each: int = 30

    def read(self, raw: str) -> tuple[str, ...]:
        """Return the words, or raise BadValue."""
        words = tuple(word.strip() for word in Parameter.read(self, raw).split(","))
        if not all(words) or len(words) > self.most or max(map(len, words)) > self.each:
            raise BadValue(
                f"“{self.name}” must be 1 to {self.most} codes of at most {self.each} characters with commas between."
            )
        if len(set(words)) != len(words):
            raise BadValue(f"“{self.name}” names one code twice; name each once.")
        return words

    def schema(self) -> dict[str, Any]:
        """Return the parameter's JSON Schema."""
        word = r"[^\s,\x00-\x1f\x7f\ufffd]{1," + str(self.each) + "}"
        return {"type": "string", "maxLength": self.longest, "pattern": f"^{word}(,{word})*$"}


@dataclass(frozen=True, slots=True)
class Paging:
    """The two parameters of every list."""

    parameters: Sequence[Parameter] = field(
        default=(
            Whole("limit", "How many rows at most.", default=100, low=1, high=1000),
            Parameter("cursor", "Where the page before this one ended: the “next” address holds it.", longest=600),
        )
    )


def read(given: QueryDict, declared: Sequence[Parameter]) -> dict[str, Any]:
    """Return the value of every declared parameter; refuse unknown, repeated, empty and unusable ones all at once."""
    known = {parameter.name: parameter for parameter in declared}
    values: dict[str, Any] = {parameter.name: parameter.default for parameter in declared}
    wrong: list[dict[str, str]] = []
    for name in given:
        if name not in known:
            wrong.append(_line(_shown(name), "unknown", _unknown(name, list(known))))
            continue
        texts = given.getlist(name)
        if len(texts) > 1:
            wrong.append(_line(name, "repeated", f"“{name}” is given {len(texts)} times; give it once."))
        elif not texts[0].strip():
            wrong.append(_line(name, "empty", f"“{name}” is empty; give it a value or leave it out."))
        else:
            try:
                values[name] = known[name].read(texts[0])
            except BadValue as problem:
                wrong.append(_line(name, "unusable", str(problem)))
    wrong += [
        _line(parameter.name, "missing", f"“{parameter.name}” is needed.")
        for parameter in declared
        if parameter.required and parameter.name not in given
    ]
    if wrong:
        refusal = BadParameters(" ".join(line["message"] for line in wrong[:3]))
        refusal.errors = wrong[:50]  # type: ignore[attr-defined]
        raise refusal
    return values


def day(raw: str, name: str) -> dt.date:
    """Return a calendar day written as 2026-03-01, or raise BadValue."""
    sentence = f"“{name}” must be a day written as 2026-03-01, in the years {EARLIEST_YEAR} to {LATEST_YEAR}."
    if not _DATE.fullmatch(raw) or not EARLIEST_YEAR <= int(raw[:4]) <= LATEST_YEAR:
        raise BadValue(sentence)
    try:
        return dt.date.fromisoformat(raw)
    except ValueError:
        raise BadValue(sentence) from None


def instant(raw: str, name: str) -> dt.datetime:
    """Return a moment written with its offset as 2026-03-01T08:30:00Z, or raise BadValue."""
    sentence = (
        f"“{name}” must be a moment with its offset, as 2026-03-01T08:30:00Z,"
        f" between the years {EARLIEST_YEAR} and {LATEST_YEAR}."
    )
    if not _INSTANT.fullmatch(raw) or not EARLIEST_YEAR < int(raw[:4]) < LATEST_YEAR:
        raise BadValue(sentence)
    try:
        return dt.datetime.fromisoformat(raw.upper().replace(" ", "T")).astimezone(dt.UTC)
    except ValueError:
        raise BadValue(sentence) from None


def nearest(name: str, known: Sequence[str]) -> str | None:
    """Return the known name that looks most like a given one."""
    found = difflib.get_close_matches(name[:60].lower(), list(known), n=1, cutoff=0.5)
    return found[0] if found else None


def _unknown(name: str, known: list[str]) -> str:
    near = nearest(name, known)
    if near:
        return f"There is no parameter “{_shown(name)}” here; the nearest is “{near}”."
    if known:
        return f"There is no parameter “{_shown(name)}” here; there are {', '.join(known)}."
    return f"There is no parameter “{_shown(name)}” here; this address takes none."


def _shown(name: str) -> str:
    cut = name[:40]
    return "".join(letter if letter.isprintable() else "?" for letter in cut)


def _line(name: str, code: str, message: str) -> dict[str, str]:
    return {"parameter": name, "code": code, "message": message}

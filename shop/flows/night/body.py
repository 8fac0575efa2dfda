"""The parts and lines of a night's result: what the e-mail, the Day sheet and the API all show."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from django.urls import NoReverseMatch, reverse

VERSION = 1
Body = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Link:
    """One thing to look at or do, and its path on this service."""

    path: str
    words: str


@dataclass(frozen=True, slots=True)
class Line:
    """A figure with its unit, a sentence that begins bold, and where to go; `facts` are its numbers for programs."""

    figure: str
    unit: str
    bold: str
    words: str
    link: Link
    facts: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Part:
    """Lines under one heading; `said` is what the subject says of them, and `counted` what the lead does."""

    key: str
    name: str
    lines: tuple[Line, ...]
    said: str
    counted: str

    def as_json(self) -> Body:
        """Return the part as it is kept."""
        return asdict(self)


def path(name: str, *args: object, otherwise: str = "staff:day") -> str:
    """Return the address of a page, or of another one where this version has no such page."""
    for candidate, arguments in ((name, args), (otherwise, ()), ("staff:day", ())):
        try:
            return reverse(candidate, args=arguments)
        except NoReverseMatch:
            continue
    return "/"

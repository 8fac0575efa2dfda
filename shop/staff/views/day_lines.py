"""What a part of the Day sheet is made of."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """A figure, a sentence that begins bold, one thing to do; with `press` it is done by one touch, which sends that."""

    figure: str
    unit: str
    bold: str
    words: str
    address: str = ""
    do: str = ""
    time: bool = False
    press: tuple[tuple[str, object], ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """Lines under one name in the margin."""

    name: str
    lines: tuple[Line, ...]
    note: str = ""

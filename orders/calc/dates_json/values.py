"""Values of JSON, read strictly: what is wrong is said in one sentence with its place and what would work."""

import dataclasses
import datetime as dt
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from orders.calc.dates.state import DAY
from orders.calc.dates_json.loading import Refused, Strange, Twice

FAR: Final = 7_500  # days from the first day, about twenty years; No source
YEARS: Final = (2000, 2199)  # No source: slips of the pen lie outside
WEEKDAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Frame:
    """What other values are read against: the first day."""

    first_day: dt.date


Reader = Callable[[Any, str, Frame], Any]


@dataclass(frozen=True, slots=True)
class Key:
    """A key: what it means, for the help, and how its value is read."""

    words: str
    read: Reader


def under(where: str, key: str) -> str:
    """Give the place of a key inside a place."""
    return f"{where}.{key}" if where else key


def rows(value: Any, where: str, keys: Mapping[str, Key], needed: tuple[str, ...] = ()) -> dict[str, Any]:
    """Give an object whose keys are all known.

    Args:
        value: of JSON.
        where: its place.
        keys: that it may have.
        needed: that it must have.

    Returns:
        The object as it is.

    Raises:
        Refused: no object, an unknown key, one written twice, or one missing.
    """
    row, named = plain_object(value, where, f"one with {', '.join(keys)}"), where or "document"
    strange = next((key for key in row if key not in keys), None)
    if strange is not None:
        raise Refused(f"{under(where, _short(strange))}: no such key; the keys are {', '.join(keys)}.")
    missing = next((key for key in needed if key not in row), None)
    if missing is not None:
        raise Refused(f"{under(where, missing)}: missing; {keys[missing].words} would work.")
    if isinstance(value, Twice):
        raise Refused(f"{named}: {_short(value.key)} is written twice; once would work.")
    return row


def plain_object(value: Any, where: str, what: str) -> dict[str, Any]:
    """Give an object, or refuse what is none."""
    if not isinstance(value, dict):
        raise Refused(f"{where or 'document'}: no object; {what} would work.")
    return value


def _short(text: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text[:40])


def whole(least: int, most: int) -> Reader:
    """Read a whole number in a range."""

    def read(value: Any, where: str, _frame: Frame) -> int:
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        fits = isinstance(value, int) and not isinstance(value, bool) and least <= value <= most
        if not fits:
            raise Refused(f"{where}: {_is(value)}; a whole number from {least} to {most} would work.")
        return int(value)

    return read


def number(least: float, most: float) -> Reader:
    """Read a number in a range."""

    def read(value: Any, where: str, _frame: Frame) -> float:
        fits = isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= most
        if not fits:
            raise Refused(f"{where}: {_is(value)}; a number from {least:g} to {most:g} would work.")
        return float(value)

    return read


def none_or(least: float, most: float) -> Reader:
    """Read 0 or a number in a range."""
    some = number(least, most)

    def read(value: Any, where: str, frame: Frame) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool) and value == 0:
            return 0.0
        try:
            return float(some(value, where, frame))
        except Refused as wrong:
            raise Refused(str(wrong).replace("; a number", "; 0 or a number")) from wrong

    return read


def _is(value: Any) -> str:
    """Say what a value is instead of what is wanted."""
    if isinstance(value, bool) or not isinstance(value, int | float | str | Strange):
        return "no number"
    return f"{_short(str(value))!r} is text" if isinstance(value, str) else _out(value)


def _out(value: Any) -> str:
    return "no number that counts anything" if isinstance(value, Strange) else f"{value:.12g} does not fit"


def text(value: Any, where: str, _frame: Frame) -> str:
    """Read a name: 1 to 80 printable signs."""
    if not isinstance(value, str) or not 1 <= len(value) <= 80 or not value.isprintable():
        raise Refused(f"{where}: no name; printable text of 1 to 80 signs would work.")
    return value


def maybe_text(value: Any, where: str, frame: Frame) -> str:
    """Read a name or nothing."""
    return "" if value == "" else text(value, where, frame)


def flag(value: Any, where: str, _frame: Frame) -> bool:
    """Read true or false."""
    if not isinstance(value, bool):
        raise Refused(f"{where}: neither true nor false; one of them would work.")
    return value


def one_of(*words: str) -> Reader:
    """Read one of some words."""

    def read(value: Any, where: str, _frame: Frame) -> str:
        if not isinstance(value, str) or value not in words:
            raise Refused(f"{where}: none of the words; {' or '.join(words)} would work.")
        return value

    return read


def date(value: Any, where: str, _frame: Frame | None = None) -> dt.date:
    """Read a day such as 2026-12-01."""
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        try:
            found = dt.date.fromisoformat(value)
        except ValueError:
            pass
        else:
            if YEARS[0] <= found.year <= YEARS[1]:
                return found
    raise Refused(f"{where}: no day; one such as 2026-12-01, from {YEARS[0]} to {YEARS[1]}, would work.")


def day(value: Any, where: str, frame: Frame) -> int:
    """Read a day and count it from the first day."""
    found = (date(value, where) - frame.first_day).days
    if abs(found) > FAR:
        raise Refused(f"{where}: more than {FAR} days from {frame.first_day}; a day nearer to it would work.")
    return found


def day_to_come(value: Any, where: str, frame: Frame) -> int:
    """Read a day; one that is over counts as the first."""
    return max(0, day(value, where, frame))


def clock(value: Any, where: str, _frame: Frame) -> int:
    """Read a time of day such as 08:00, up to 24:00, as minutes."""
    found = re.fullmatch(r"([0-9]{2}):([0-5][0-9])", value) if isinstance(value, str) else None
    minutes = int(found[1]) * 60 + int(found[2]) if found else DAY + 1
    if minutes > DAY:
        raise Refused(f"{where}: no time of day; one such as 08:00 would work.")
    return minutes


def moment(value: Any, where: str, frame: Frame) -> int:
    """Read a moment such as 2026-12-01T14:30 as minutes from midnight before the first day; one that is over is 0."""
    parts = value.split("T") if isinstance(value, str) else []
    if len(parts) != 2:
        raise Refused(f"{where}: no moment; one such as 2026-12-01T14:30 would work.")
    return max(0, day(parts[0], where, frame) * DAY + clock(parts[1], where, frame))


def many(read: Reader, most: int, *, least: int = 0) -> Reader:
    """Read a list, each with its place."""

    def read_all(value: Any, where: str, frame: Frame) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise Refused(f"{where}: no list; one of {least} to {most} would work.")
        if not least <= len(value) <= most:
            raise Refused(f"{where}: {len(value)} of them; {least} to {most} would work.")
        return tuple(read(one, f"{where}[{at}]", frame) for at, one in enumerate(value))

    return read_all


def each(read: Reader, most: int) -> Reader:
    """Read an object from names to values."""

    def read_all(value: Any, where: str, frame: Frame) -> dict[str, Any]:
        row = plain_object(value, where, "one from names to values")
        if isinstance(row, Twice):
            raise Refused(f"{where}: {_short(row.key)} is written twice; once would work.")
        if len(row) > most:
            raise Refused(f"{where}: {len(row)} of them; up to {most} would work.")
        return {
            text(key, where, frame): read(one, under(where, _short(key)), frame) for key, one in sorted(row.items())
        }

    return read_all


def then(read: Reader, change: Callable[[Any], Any]) -> Reader:
    """Read a value and change what was read."""
    return lambda value, where, frame: change(read(value, where, frame))


def needed_of(kind: type[Any]) -> tuple[str, ...]:
    """Name the parts of a piece of the state that have no default."""
    unset = dataclasses.MISSING
    return tuple(one.name for one in dataclasses.fields(kind) if one.default is unset and one.default_factory is unset)


def made(kind: type[Any], keys: Mapping[str, Key]) -> Reader:
    """Read an object as a part of the state, its defaults those of the state."""
    needed = needed_of(kind)

    def read(value: Any, where: str, frame: Frame) -> Any:
        row = rows(value, where, keys, needed)
        found = {key: keys[key].read(one, under(where, key), frame) for key, one in row.items()}
        try:
            return kind(**found)
        except ValueError as wrong:
            raise Refused(f"{where}: {wrong}.") from wrong

    return read

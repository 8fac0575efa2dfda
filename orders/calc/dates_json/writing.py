"""A shop as the document that `reading` reads, and documents as short text to be kept: the same answer can be had again."""

import base64
import binascii
import dataclasses
import datetime as dt
import json
import zlib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from orders.calc.dates.asking import FUTURES
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Batch, Coming, Hours, Line, Machine, Person, Pin, Shop
from orders.calc.dates_json.loading import MOST_TEXT, Refused, load
from orders.calc.dates_json.reading import digest, read
from orders.calc.dates_json.values import WEEKDAYS, under

Writer = Callable[[Any, dt.date], Any]
_ANY: Final = ({"ask": "promises"},)  # what a document without questions is tried with
_BETWEEN: Final = ":"


def document(
    shop: Shop, *, name: str = "", seed: int = 0, futures: int = FUTURES, questions: Sequence[Mapping[str, Any]] = ()
) -> dict[str, Any]:
    """Write a shop as a document.

    What of the shop has its default is left out; seed and futures are always named. Equal shops give equal documents, with whole numbers where pieces and minutes by
    the clock are counted and others elsewhere. The document is read back before it is given, so it can be read.

    Args:
        shop: as it stands.
        name: of the document.
        seed: of what is drawn.
        futures: how many are played.
        questions: as the document's; without any the key is left out, and one is to be added before it is asked.

    Returns:
        Plain values for JSON.

    Raises:
        ValueError: something the document cannot carry, with its place: what is out of its range, not in the order in
            which it is read (weekdays, what a step uses), named nowhere else, or a question that cannot be answered.
    """
    said: dict[str, Any] = {"name": name} if name else {}
    said |= {"seed": seed, "futures": futures}
    asked = read(text({**said, "questions": [*(questions or _ANY)], **_shop(shop)}))
    _same(shop, asked.shop, "")
    wrong = next((one for one in asked.questions if isinstance(one, Refused)), None)
    if wrong:
        raise wrong
    said |= {"questions": [dict(one) for one in questions]} if questions else {}
    return {**said, **_shop(asked.shop)}


def pack(document: Mapping[str, Any]) -> str:
    """Make a document short: its digest, a colon, and its JSON with its keys in order, compressed, as text.

    Args:
        document: plain values for JSON.

    Returns:
        ASCII text without spaces.

    Raises:
        ValueError: values that JSON has not.

    Source: zlib (RFC 1950) by Python's zlib, base64 (RFC 4648, section 4); the digest by `reading.digest`.
    """
    short = base64.b64encode(zlib.compress(text(document).encode(), 9)).decode()
    return f"{digest(document)}{_BETWEEN}{short}"


def unpack(packed: str) -> dict[str, Any]:
    """Give the document of a short text.

    Args:
        packed: as `pack` made it.

    Returns:
        The document.

    Raises:
        ValueError: it is not what was packed: cut off, changed, or something else.
    """
    known, _, short = packed.partition(_BETWEEN)
    unzip = zlib.decompressobj()
    try:
        text = unzip.decompress(base64.b64decode(short, validate=True), MOST_TEXT).decode()
    except (binascii.Error, zlib.error, UnicodeDecodeError) as wrong:
        raise ValueError(f"packed: not as it was packed ({wrong}); the text as it was packed would work.") from wrong
    if not unzip.eof:
        raise ValueError("packed: cut off or too long; the text as it was packed would work.")
    found = load(text)
    if not isinstance(found, dict) or digest(found) != known:
        raise ValueError("packed: the digest is of another document; the text as it was packed would work.")
    return found


def text(value: Mapping[str, Any]) -> str:
    """Give a document as the text that is read: JSON, keys in order, no spaces.

    Raises:
        ValueError: values that JSON has not.
    """
    try:
        return json.dumps(value, sort_keys=True, separators=(",", ":"))
    except TypeError as wrong:
        raise ValueError(f"document: {wrong}; plain text, numbers, lists and objects would work.") from wrong


def _shop(shop: Shop) -> dict[str, Any]:
    said = _object(shop, "", shop.hours.first_day)
    assert isinstance(said, dict)
    return said


def _object(part: Any, where: str, first: dt.date) -> Any:
    """Write a part of the state: what has no default, and what has another value than its default."""
    if isinstance(part, tuple):
        return [_object(one, f"{where}[{at}]", first) for at, one in enumerate(part)]
    if isinstance(part, Mapping):
        return {key: _object(part[key], under(where, key), first) for key in sorted(part)}
    if not dataclasses.is_dataclass(part):
        if not isinstance(part, str | int | float | None):
            raise ValueError(f"{where}: the document cannot carry {part!r}, which JSON has not.")
        return part
    said = {}
    for one in dataclasses.fields(part):
        value, place = getattr(part, one.name), under(where, one.name)
        usual = one.default if one.default_factory is dataclasses.MISSING else one.default_factory()
        if value == usual:
            continue
        write = _WRITERS.get((type(part), one.name))
        said[one.name] = _object(value, place, first) if write is None else _by(write, value, place, first)
    return said


def _by(write: Writer, value: Any, where: str, first: dt.date) -> Any:
    try:
        return write(value, first)
    except (TypeError, ValueError, OverflowError) as wrong:
        raise ValueError(f"{where}: the document cannot carry {value!r} ({wrong}).") from wrong


def _same(one: Any, read: Any, where: str) -> None:
    """Refuse, with its place, what would be read as something else."""
    if one == read:
        return
    for place, mine, yours in _parts(one, read, where):
        _same(mine, yours, place)
    raise ValueError(f"{where}: the document cannot carry {one!r}; it would be read as {read!r}.")


def _parts(one: Any, read: Any, where: str) -> list[tuple[str, Any, Any]]:
    """Give what a part of the state is made of, with its places."""
    if dataclasses.is_dataclass(one) and type(one) is type(read):
        names = [field.name for field in dataclasses.fields(one)]
        return [(under(where, name), getattr(one, name), getattr(read, name)) for name in names]
    if isinstance(one, tuple) and len(one) == len(read) and all(map(dataclasses.is_dataclass, one)):
        return [(f"{where}[{at}]", mine, yours) for at, (mine, yours) in enumerate(zip(one, read, strict=True))]
    return []


def _clock(minutes: int, _first: dt.date) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _day(day: int, first: dt.date) -> str:
    return (first + dt.timedelta(days=day)).isoformat()


def _days(days: frozenset[int], first: dt.date) -> list[str]:
    return [_day(day, first) for day in sorted(days)]


def _moment(minute: int, first: dt.date) -> str:
    return f"{_day(minute // DAY, first)}T{_clock(minute % DAY, first)}"


def _date(date: dt.date, _first: dt.date) -> str:
    return date.isoformat()


def _dates(dates: frozenset[dt.date], _first: dt.date) -> list[str]:
    return [date.isoformat() for date in sorted(dates)]


def _weekdays(days: tuple[int, ...], _first: dt.date) -> list[str]:
    return [WEEKDAYS[day] for day in days]


def _uses(uses: tuple[tuple[str, float], ...], _first: dt.date) -> dict[str, float]:
    return dict(uses)


_WRITERS: Final[Mapping[tuple[type, str], Writer]] = {
    (Hours, "first_day"): _date,
    (Hours, "weekdays"): _weekdays,
    (Hours, "opens"): _clock,
    (Hours, "closes"): _clock,
    (Hours, "closed"): _dates,
    (Hours, "carrier_weekdays"): _weekdays,
    (Hours, "carrier_cutoff"): _clock,
    (Person, "out"): _days,
    (Machine, "down"): _days,
    (Machine, "busy"): _moment,
    (Batch, "ready"): _moment,
    (Coming, "day"): _day,
    (Line, "day"): _day,
    (Pin, "day"): _day,
    (Step, "uses"): _uses,
    (Shop, "now"): _clock,
    (Shop, "lorry"): _clock,
}

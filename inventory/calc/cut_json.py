"""Cut questions as lines of JSON, read strictly.

A line is of one of two forms. Bars of one length, as many as wanted: `capacity` and `items`. A rack: `bars`, `items`,
`kerf`, `min_remnant` and what else `KEYS` names. Lengths are whole numbers of one unit, whichever that is.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from inventory.calc.cut_problem import Buyable, Locked, Order, Piece, Prices, Problem, Stock

MOST_TEXT: Final = 2_000_000  # characters of a line; No source: a hundred times the longest question tried
MOST_ROWS: Final = 5_000  # bars, items, lengths to buy; No source
MOST: Final = 10**12  # lengths, prices; No source: a thousand kilometres in tenths of a millimetre
MOST_COUNT: Final = 100_000  # pieces of one line; No source

KEYS: Final[Mapping[str, str]] = {
    "name": "any text, given back",
    "capacity": "length of the bars, where all are alike and as many as wanted can be had; instead of bars",
    "bars": "the rack: a list of {id, length, kind: full or remnant, trim, heat, age}; trim is the squaring cut with its"
    " kerf, heat the mill heat, age days on the rack",
    "items": "what is wanted: a list of [length, count] or of {length, count, due, run}; due is a day such as 2026-12-01"
    " (the earliest goes first, none last), run names pieces that belong together",
    "kerf": "what one cut takes (0)",
    "min_remnant": "the shortest rest that is kept (1; with capacity: none is)",
    "tail_hold": "what the vice must hold behind the last cut (0)",
    "one_heat": "true: the pieces of a run, or of an item without one, come from one mill heat (false)",
    "prices": "{remnant, handled, full}: what a new remnant, a bar sawn and a full bar opened count in length of scrap"
    " (1000, 300, 2000: fit for tenths of a millimetre)",
    "buyable": "lengths that may be bought: a list of {id, length, price, trim, most}; price of one bar in minor units,"
    " most how many can be had",
    "locked": "cuts already settled: a list of {bar, items: [number of the item, ...]} in the order of the saw, the first"
    " item is number 1",
    "order": "one price, or strict: fewest full bars, least scrap, fewest remnants, fewest bars, longest remnant",
    "seed": "a whole number for what is drawn (0)",
}
NOTES: Final = (
    "set",
    "lb",
    "ub",
    "best",
    "src",
    "unit_mm",
    "dia_mm",
    "kg_per_unit",
    "expected",
)  # of data sets, unread
NO_PRICES: Final = Prices(0, 0, 0)
USUAL_PRICES: Final = Prices(1_000, 300, 2_000)


class Unreadable(ValueError):
    """A line that is no question; the text is one sentence: which key, what is wrong, what would work."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question with the seed it is to be answered by."""

    problem: Problem
    seed: int


def read(line: str, *, order: Order | None = None) -> Asked:
    """Read a line.

    Args:
        line: JSON of one object.
        order: which aims come first, whatever the line says; None: as it says, else one price.

    Returns:
        The question and its seed.

    Raises:
        Unreadable: the line is none, with the key that is wrong and what would work.
    """
    row = _object(line)
    known = {*KEYS, *NOTES}
    strange = next((key for key in row if key not in known), None)
    if strange is not None:
        raise Unreadable(f"{strange[:40]}: no such key; the keys are {', '.join(KEYS)}.")
    if ("capacity" in row) == ("bars" in row):
        raise Unreadable("bars: write either bars, the rack, or capacity, the length of bars that are all alike.")
    try:
        problem = _problem(row, order)
    except Unreadable:
        raise
    except ValueError as wrong:
        raise Unreadable(f"line: {wrong}.") from wrong
    return Asked(problem, _whole(row, "seed", least=0, usual=0))


def _object(line: str) -> dict[str, Any]:
    if len(line) > MOST_TEXT:
        raise Unreadable(f"line: longer than {MOST_TEXT} characters; split the question.")
    try:
        row = json.loads(line, parse_float=_no_number, parse_constant=_no_number, object_pairs_hook=_once)
    except RecursionError as wrong:
        raise Unreadable("line: lists inside lists without end; one object as the help shows would work.") from wrong
    except Unreadable:
        raise
    except ValueError as wrong:
        raise Unreadable(f"line: no JSON ({wrong}); one object on one line would work.") from wrong
    if not isinstance(row, dict):
        raise Unreadable('line: no object; one such as {"capacity": 100, "items": [[45, 97]]} would work.')
    return row


def _no_number(text: str) -> float:
    # Notes of data sets may be fractions; a fraction anywhere else is refused where it is read.
    try:
        return float(text)
    except (ValueError, OverflowError) as wrong:
        raise Unreadable(f"line: {text[:20]} is no number.") from wrong


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    row = dict(pairs)
    if len(row) < len(pairs):
        twice = next(key for n, (key, _) in enumerate(pairs) if key in dict(pairs[:n]))
        raise Unreadable(f"{twice[:40]}: written twice; once would work.")
    return row


def _problem(row: Mapping[str, Any], order: Order | None) -> Problem:
    pieces = tuple(_piece(one, number) for number, one in enumerate(_list(row, "items"), 1))
    alike = "capacity" in row
    stock: tuple[Stock, ...] = ()
    buyable: tuple[Buyable, ...] = tuple(_buyable(one, n) for n, one in enumerate(_list(row, "buyable", []), 1))
    if alike:
        capacity = _whole(row, "capacity", least=1)
        buyable = (Buyable("bar", capacity, 1), *buyable)
    else:
        stock = tuple(_stock(one, number) for number, one in enumerate(_list(row, "bars"), 1))
    longest = max([*(bar.length for bar in stock), *(bar.length for bar in buyable)], default=1)
    return Problem(
        stock,
        pieces,
        kerf=_whole(row, "kerf", least=0, usual=0),
        min_remnant=_whole(row, "min_remnant", least=1, usual=longest if alike else 1),
        prices=_prices(row, NO_PRICES if alike else USUAL_PRICES),
        buyable=buyable,
        tail_hold=_whole(row, "tail_hold", least=0, usual=0),
        one_heat=_flag(row, "one_heat"),
        locked=tuple(_lock(one, number, len(pieces)) for number, one in enumerate(_list(row, "locked", []), 1)),
        order=order or _order(row),
        name=_text(row, "name", 200),
    )


def _list(row: Mapping[str, Any], key: str, usual: Sequence[Any] | None = None) -> Sequence[Any]:
    found = row.get(key, usual)
    if not isinstance(found, list):
        raise Unreadable(f"{key}: no list; {KEYS[key].split(';')[0]} would work.")
    if len(found) > MOST_ROWS:
        raise Unreadable(f"{key}: {len(found)} rows; up to {MOST_ROWS} would work.")
    return found


def _row(one: Any, where: str, keys: Iterable[str]) -> Mapping[str, Any]:
    if not isinstance(one, dict):
        raise Unreadable(f"{where}: no object; one with {', '.join(keys)} would work.")
    known = set(keys)
    strange = next((key for key in one if key not in known), None)
    if strange is not None:
        raise Unreadable(f"{where}: no such key {strange[:40]!r}; the keys are {', '.join(keys)}.")
    return one


def _whole(
    row: Mapping[str, Any], key: str, *, least: int, usual: int | None = None, where: str = "", most: int = MOST
) -> int:
    found = row.get(key, usual)
    name = f"{where} {key}".strip()
    if isinstance(found, bool) or not isinstance(found, int):
        said = "missing" if found is None else "no whole number"
        raise Unreadable(f"{name}: {said}; a whole number from {least} to {most} would work.")
    if not least <= found <= most:
        raise Unreadable(f"{name}: out of range; a whole number from {least} to {most} would work.")
    return found


def _text(row: Mapping[str, Any], key: str, longest: int, where: str = "") -> str:
    found = row.get(key, "")
    if not isinstance(found, str) or len(found) > longest:
        raise Unreadable(f"{f'{where} {key}'.strip()}: no text of up to {longest} characters.")
    return found


def _flag(row: Mapping[str, Any], key: str) -> bool:
    found = row.get(key, False)
    if not isinstance(found, bool):
        raise Unreadable(f"{key}: neither true nor false; one of them would work.")
    return found


def _order(row: Mapping[str, Any]) -> Order:
    found = row.get("order", Order.ONE_PRICE.value)
    if not isinstance(found, str) or found not in set(Order):
        raise Unreadable(f"order: no such order; {' or '.join(order.value for order in Order)} would work.")
    return Order(found)


def _prices(row: Mapping[str, Any], usual: Prices) -> Prices:
    if "prices" not in row:
        return usual
    given = _row(row["prices"], "prices", ("remnant", "handled", "full"))
    remnant, handled, full = (_whole(given, key, least=0, where="prices") for key in ("remnant", "handled", "full"))
    return Prices(remnant, handled, full)


def _piece(one: Any, number: int) -> Piece:
    where = f"items {number}:"
    if isinstance(one, list):
        if len(one) != 2:
            raise Unreadable(f"items {number}: no pair; [length, count] would work.")
        one = {"length": one[0], "count": one[1]}
    row = _row(one, f"items {number}", ("length", "count", "due", "run"))
    return Piece(
        _whole(row, "length", least=1, where=where),
        _whole(row, "count", least=0, where=where, most=MOST_COUNT),
        _text(row, "due", 40, where),
        _text(row, "run", 80, where),
    )


def _stock(one: Any, number: int) -> Stock:
    where = f"bars {number}:"
    row = _row(one, f"bars {number}", ("id", "length", "kind", "trim", "heat", "age"))
    kind = row.get("kind", "full")
    if kind not in ("full", "remnant"):
        raise Unreadable(f"bars {number}: kind: neither full nor remnant; one of them would work.")
    return Stock(
        _text(row, "id", 80, where) or f"bar {number}",
        _whole(row, "length", least=1, where=where),
        kind == "full",
        _whole(row, "trim", least=0, usual=0, where=where),
        _text(row, "heat", 80, where),
        _whole(row, "age", least=0, usual=0, where=where),
    )


def _buyable(one: Any, number: int) -> Buyable:
    where = f"buyable {number}:"
    row = _row(one, f"buyable {number}", ("id", "length", "price", "trim", "most"))
    return Buyable(
        _text(row, "id", 80, where) or f"to buy {number}",
        _whole(row, "length", least=1, where=where),
        _whole(row, "price", least=0, where=where),
        _whole(row, "trim", least=0, usual=0, where=where),
        _whole(row, "most", least=0, where=where) if row.get("most") is not None else None,
    )


def _lock(one: Any, number: int, items: int) -> Locked:
    row = _row(one, f"locked {number}", ("bar", "items"))
    pieces = row.get("items")
    if not isinstance(pieces, list) or len(pieces) > MOST_COUNT:
        raise Unreadable(f"locked {number}: items: no list of item numbers; [1, 1, 2] would work.")
    for piece in pieces:
        if isinstance(piece, bool) or not isinstance(piece, int) or not 1 <= piece <= items:
            raise Unreadable(f"locked {number}: items: no such item; whole numbers from 1 to {items} would work.")
    return Locked(_text(row, "bar", 80, f"locked {number}:"), tuple(piece - 1 for piece in pieces))

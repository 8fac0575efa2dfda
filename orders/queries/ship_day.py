"""The three questions asked of the book's shop: when, how sure by a day, how many by a day; in plain values to be kept."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from orders.calc.dates import asking
from orders.calc.dates import ideas as bringing_forward
from orders.calc.dates.answers import Curve, Split
from orders.calc.dates.asking import Answer, Hold, Rated
from orders.calc.dates.state import Line
from orders.calc.dates.waits import SHEET
from orders.calc.dates_json import week
from orders.queries.shop_state import Named, Stated

SEED: Final = 1  # one for the whole shop, so that every chance of it is drawn from the same futures
FUTURES: Final = 4_000
LOSES: Final = 0.05  # an order that loses more is shown, as one below its wanted figure is
ASKED: Final = "asked"
CURVE_ENDS: Final = 0.999

Values = dict[str, Any]


def wanted_lines(wanted: Sequence[tuple[str, int]], sure: float) -> list[Line]:
    """Give the lines of a further order, by item code and pieces."""
    return [Line(ASKED, item, pieces, None, sure) for item, pieces in wanted]


def ask(
    stated: Stated, wanted: Sequence[tuple[str, int]], *, sure: float, by: dt.date | None, futures: int = FUTURES
) -> Values:
    """Answer for a further order.

    Args:
        stated: the shop, without it.
        wanted: item codes and pieces.
        sure: the chance wanted.
        by: the day that is asked about besides, if any.
        futures: how many are played.

    Returns:
        The answer as plain values: days in ISO 8601, chances 0 to 1.
    """
    shop, lines = stated.shop, wanted_lines(wanted, sure)
    found = asking.ask(shop, lines, sure=sure, seed=SEED, futures=futures, keep=False)
    said = _said(stated, found, {item for item, _ in wanted}, sure)
    if by is not None:
        said["by"] = _by(stated, found, lines, by, sure, futures)
    return said


def standing(stated: Stated, order_id: int, *, sure: float, futures: int = FUTURES) -> Values:
    """Answer for an order that stands in the queue, at its place: nobody loses by it.

    An order whose lines have days of their own is answered for the line that comes last.
    """
    names = names_of(stated, order_id)
    if not names:
        raise ValueError("nothing of it is to be made: it can go with the next carrier")
    found = asking.standings(stated.shop, names, seed=SEED, futures=futures)
    last = max(found.values(), key=lambda one: (one.curve.never, one.curve.day(sure) or 0))
    items = {line.item for line in lines_of(stated, order_id)}
    said = _said(stated, last, items, sure)
    return {**said, "losers": []}


def names_of(stated: Stated, order_id: int) -> list[str]:
    """Give the names that an order goes by in the calculator: its number, and lines with a day of their own."""
    return [name for name, one in stated.names.items() if one.order_id == order_id]


def lines_of(stated: Stated, order_id: int) -> list[Line]:
    """Give the lines of an order in the queue."""
    names = set(names_of(stated, order_id))
    return [line for line in stated.shop.lines if line.order in names]


def ideas(stated: Stated, wanted: Sequence[tuple[str, int]], *, sure: float) -> list[Values]:
    """Say what would bring a further order forward, the best first."""
    found = bringing_forward.ideas(stated.shop, wanted_lines(wanted, sure), sure=sure, seed=SEED, keep=False)
    return [
        {
            "what": named(stated, idea.what),
            "day": _iso(stated, idea.day),
            "gain": idea.gain,
            "losers": [str(stated.names[name].number) for name in idea.losers if name in stated.names],
        }
        for idea in found
    ]


def _said(stated: Stated, found: Answer, items: set[str], sure: float) -> Values:
    rated = [said_of(stated, one) for one in found.promises]
    return {
        "first_day": stated.first_day.isoformat(),
        "sure": sure,
        "day": _iso(stated, found.curve.day(sure)),
        "half": _iso(stated, found.curve.day(0.5)),
        "never": round(found.curve.never, 6),
        "curve": curve_points(stated, found.curve),
        "holds": [hold_of(stated, hold) for hold in found.holds[:6]],
        "promises": rated,
        "losers": [one for one in rated if loses(one)],
        "stuck": [_stuck(stated, one) for one in week.stuck(found.shop, found.outcome.plan, items)],
        "replanned": found.replanned,
        "by": None,
    }


def loses(one: Mapping[str, Any]) -> bool:
    """Say whether an order is to be shown: it falls below its wanted figure, or loses more than five points."""
    falls = one["after"] < one["wanted"] <= one["before"]
    return bool(falls or one["before"] - one["after"] > LOSES)


def said_of(stated: Stated, rated: Rated) -> Values:
    """Give a promised order with its chance before and after, in plain values."""
    of = stated.names[rated.order]
    return {
        "order": of.number,
        "line": of.line,
        "customer": of.customer,
        "day": _iso(stated, rated.day),
        "wanted": of.wanted,
        "before": round(rated.before, 6),
        "after": round(rated.after, 6),
    }


def curve_points(stated: Stated, curve: Curve) -> list[Values]:
    """Give the days on which the chance rises, up to nearly certain."""
    found, before = [], 0
    for day, count in enumerate(curve.counts):
        if count > before:
            found.append({"day": _iso(stated, day), "chance": round(count / curve.futures, 6)})
        before = count
        if count >= CURVE_ENDS * curve.futures:
            break
    return found


def chance_on(answer: Mapping[str, Any], day: dt.date) -> float:
    """Give the chance that it is sent by a day, as an answer's curve says."""
    upto = [point["chance"] for point in answer["curve"] if point["day"] <= day.isoformat()]
    return float(upto[-1]) if upto else 0.0


def _by(stated: Stated, whole: Answer, lines: Sequence[Line], by: dt.date, sure: float, futures: int) -> Values:
    number = (by - stated.first_day).days
    said: Values = {"day": by.isoformat(), "chance": round(whole.curve.sure(number), 6), "pieces": None, "split": []}
    if len(lines) == 1:
        parts = asking.split(
            stated.shop, lines[0], day=number, sure=sure, seed=SEED, futures=futures, keep=False, whole=whole
        )
        chances = _chances(stated, lines[0], parts, futures)
        said["split"] = [
            {"pieces": part.pieces, "day": _iso(stated, part.day), "chance": chance}
            for part, chance in zip(parts, chances, strict=True)
        ]
        said["pieces"] = sum(part.pieces for part in parts if part.day is not None and part.day <= number)
    return said


def _chances(stated: Stated, line: Line, parts: Sequence[Split], futures: int) -> list[float]:
    """Give the chance of each part on its day with both in the queue, the later one in a run of its own."""
    lines = [
        replace(line, order=f"{ASKED} {number}", pieces=part.pieces, alone=number > 0)
        for number, part in enumerate(parts)
    ]
    shop = replace(stated.shop, lines=(*stated.shop.lines, *lines))
    outcome, _ = asking.rate(shop, seed=SEED, futures=futures)
    return [
        0.0 if part.day is None else round(outcome.curve(one.order, stated.shop.horizon_days).sure(part.day), 6)
        for one, part in zip(lines, parts, strict=True)
    ]


def questions_of(
    stated: Stated, answer: Mapping[str, Any], order_id: int | None, wanted: Sequence[tuple[str, int]]
) -> list[Values]:
    """Give what was asked as the questions of a document, so that it can be asked again of what it rests on."""
    if order_id is not None:
        day = answer["day"]
        return [{"ask": "how_sure", "order": name, "by": day} for name in names_of(stated, order_id) if day]
    lines = [{"item": item, "pieces": pieces} for item, pieces in wanted]
    return [{"ask": "when", "order": ASKED, "sure": answer["sure"], "keep": False, "lines": lines}]


def hold_of(stated: Stated, hold: Hold) -> Values:
    """Give what an order waits for, by its name in the book."""
    return {"what": named(stated, hold.what), "share": round(hold.share, 4), "days": round(hold.days, 2)}


def named(stated: Stated, what: str) -> str:
    """Give the plain name of a person, machine or item that the calculator names by its code."""
    if what == SHEET:
        return "the week sheet"
    for code, name in stated.plain.items():
        if what == code:
            return name
        if what.startswith(f"{code} "):  # "HA16 there today"
            return f"{name}, {what[len(code) + 1 :]}"
    return what


def _stuck(stated: Stated, row: Mapping[str, Any]) -> Values:
    return {**row, "item": named(stated, str(row["item"]))}


def _iso(stated: Stated, day: int | None) -> str | None:
    return None if day is None else (stated.first_day + dt.timedelta(days=day)).isoformat()


__all__ = ["FUTURES", "SEED", "Named", "ask", "chance_on", "ideas"]

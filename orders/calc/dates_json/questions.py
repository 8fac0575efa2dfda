"""The questions of a document: what is asked, of which order, by when, how sure."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from orders.calc.dates.state import Line, Shop
from orders.calc.dates_json.keys import PIECES, SURE
from orders.calc.dates_json.loading import Refused
from orders.calc.dates_json.values import Frame, Key, day, flag, many, number, one_of, rows, text, under, whole

USUAL_SURE: Final = 0.9  # design of the calculator: nine in ten where nothing else is wanted
WEEK: Final = 7

ASKED_LINE: Final[Mapping[str, Key]] = {
    "item": Key("an item that is made, in stock, coming or can be bought", text),
    "pieces": Key("wanted, 1 to 1000", whole(1, PIECES)),
}


def _asked_line(value: Any, where: str, frame: Frame) -> tuple[str, int]:
    row = rows(value, where, ASKED_LINE, ("item", "pieces"))
    item, pieces = (ASKED_LINE[key].read(row[key], under(where, key), frame) for key in ("item", "pieces"))
    return item, pieces


KINDS: Final[Mapping[str, str]] = {
    "when": "the day an order can be sent with the chance that is wanted, the 50 % day, the curve, what holds it up, what"
    " it does to the orders promised",
    "how_sure": "the chance that it is sent by the end of a day; without lines for an order that is in the book",
    "how_many": "how many pieces of one line go by the end of a day, asked for by themselves, and when the rest does, in a run"
    " of its own",
    "promises": "the chance to keep each day that was promised",
    "week": "the week as it is proposed: who does which operation where and when",
    "ideas": "what would bring the order forward: the best three of some changes",
}
_ORDER: Final = ("order", "lines", "sure", "keep")
TAKES: Final[Mapping[str, tuple[str, ...]]] = {
    "when": _ORDER,
    "how_sure": (*_ORDER, "by"),
    "how_many": (*_ORDER, "by"),
    "promises": (),
    "week": ("days",),
    "ideas": _ORDER,
}
QUESTION: Final[Mapping[str, Key]] = {
    "ask": Key(", ".join(KINDS), one_of(*KINDS)),
    "order": Key("name of the order, one that no other has", text),
    "lines": Key("of the order: a list of 1 to 50 of {item, pieces}", many(_asked_line, 50, least=1)),
    "sure": Key("the chance wanted (0.9)", number(*SURE)),
    "keep": Key(
        "false: answer by the week that is made anew with the order in it, as the service does for a day it gives; true: by"
        " the better of that and the week as it stood (true)",
        flag,
    ),
    "by": Key("the day, such as 2026-12-18; sent by the end of it", day),
    "days": Key("of the week, from the first day on (7)", whole(1, 100)),
}


@dataclass(frozen=True, slots=True)
class Question:
    """One question; what it does not take is empty."""

    ask: str
    order: str = ""
    lines: tuple[tuple[str, int], ...] = ()
    sure: float = USUAL_SURE
    keep: bool = True
    by: int = 0
    days: int = WEEK

    @property
    def wanted(self) -> tuple[Line, ...]:
        """The lines of the order as the calculator takes them."""
        return tuple(Line(self.order, item, pieces, sure=self.sure) for item, pieces in self.lines)


def question(value: Any, where: str, shop: Shop, known: frozenset[str]) -> Question:
    """Read a question.

    Args:
        value: of JSON.
        where: its place.
        shop: it is asked of.
        known: items of the shop.

    Returns:
        The question.

    Raises:
        Refused: it cannot be answered, with the place and what would work.
    """
    frame = Frame(shop.hours.first_day)
    ask: str = QUESTION["ask"].read(rows(value, where, QUESTION, ("ask",))["ask"], under(where, "ask"), frame)
    takes = {key: QUESTION[key] for key in ("ask", *TAKES[ask])}
    named = [line.order for line in shop.lines]
    in_book = ask == "how_sure" and "lines" not in value and value.get("order") in named
    if ask == "how_sure" and "lines" not in value and isinstance(value.get("order"), str) and not in_book:
        raise Refused(
            f"{under(where, 'order')}: no order {value['order'][:40]!r} in the document; one of its lines, or lines for a"
            " new one, would work."
        )
    needed = [key for key in ("order", "lines", "by") if key in takes and not (in_book and key == "lines")]
    row = rows(value, where, takes, tuple(needed))
    asked = Question(**{key: takes[key].read(one, under(where, key), frame) for key, one in row.items()})
    if asked.order in named and not in_book:
        raise Refused(f"{under(where, 'order')}: there is an order {asked.order!r} already; another name would work.")
    if ask == "how_many" and len(asked.lines) != 1:
        raise Refused(f"{under(where, 'lines')}: {len(asked.lines)} of them; one would work, for one item is counted.")
    if asked.by >= shop.horizon_days:
        raise Refused(
            f"{under(where, 'by')}: past the {shop.horizon_days} days of the horizon; an earlier day would work."
        )
    for at, (item, _) in enumerate(asked.lines):
        if item not in known:
            raise Refused(f"{under(where, 'lines')}[{at}].item: no such item {item!r}; one of the document would work.")
    return asked

"""What an answer about a ship day says, in the words of the Counter."""

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory.models import Item
from orders.models import Customer, Order, Question
from orders.queries import book, ship_day
from orders.queries.shop_state.queue import sure_of
from shop.shared import clock, shop_row
from shop.staff import wording
from shop.staff.ruled import Column, Ruled

_EVER = "never"
_MADE_TO_ORDER = re.compile(r"([0-9]+)\.([0-9]+)")
SHORTEST_WAIT = 0.05  # days of work; less is not worth a line


@dataclass(frozen=True, slots=True)
class Answered:
    """The three answers: the day, how sure by a day, how many by a day; each a figure and a sentence."""

    day: str
    day_words: str
    sure: str = ""
    sure_words: str = ""
    many: str = ""
    many_words: str = ""
    give: str = ""
    split: str = ""


def title(question: Question) -> str:
    """Name what is asked about: 30 × cross peen 2 lb."""
    if question.order is not None:
        return f"Order {question.order.number}, {question.order.customer.name}"
    names = dict(Item.objects.filter(code__in=[row["item"] for row in question.lines]).values_list("code", "name"))
    return ", ".join(
        f"{wording.figures(row['pieces'])} × {names.get(row['item'], row['item'])}" for row in question.lines
    )


def typed(question: Question) -> dict[str, object]:
    """Return what was typed, for asking again."""
    found: dict[str, object] = {
        "kind": question.customer_kind,
        "by_day": question.by_day,
        "sure": round(question.wanted_ppm / 10_000),
    }
    for number, row in enumerate(question.lines):
        tail = f"_{number}" if number else ""
        found |= {f"qty{tail}": row["pieces"], f"item{tail}": row["item"]}
    return found


def said(question: Question) -> Answered:
    """Say the answer."""
    answer = question.answer
    wanted = round(answer["sure"] * 100)
    day = _day(answer["day"])
    if day is None and any(map(_made_to_order, answer["stuck"])):
        return Answered(
            "not known", "No day can be worked out for what is made to order and like no pattern of the shop."
        )
    if day is None:
        return Answered(_EVER, f"It is never {wanted} times in 100 sure: {_never(answer)}", **_by(answer))
    chance = wording.in_hundred(ship_day.chance_on(answer, day))
    half = _day(answer["half"])
    inside = f" Half the time it is ready by {_on(half, answer)}; keep that inside." if half and half < day else ""
    return Answered(
        _on(day, answer),
        f"Kept {chance} times in 100; {wanted} are wanted.{inside}",
        give=_on(day, answer),
        **_by(answer),
    )


def _by(answer: Mapping[str, Any]) -> dict[str, str]:
    by = answer["by"]
    if not by:
        return {}
    day, wanted = _on(dt.date.fromisoformat(by["day"]), answer), round(answer["sure"] * 100)
    chance = wording.in_hundred(by["chance"], wanted=answer["sure"])
    enough = "Sure enough." if by["chance"] >= answer["sure"] else f"Not sure enough: {wanted} are wanted."
    found = {"sure": str(chance), "sure_words": f"that all of it is sent by {day}. {enough}"}
    if by["pieces"] is None:
        return found
    parts = [part for part in by["split"] if part["day"]]
    then = "".join(
        f" and {wording.figures(part['pieces'])} on {_on(dt.date.fromisoformat(part['day']), answer)},"
        f" kept {wording.in_hundred(part['chance'])} times in 100"
        for part in parts
        if part["day"] > by["day"]
    )
    first = next((part for part in parts if part["day"] <= by["day"]), None)
    kept = f", kept {wording.in_hundred(first['chance'])} times in 100" if first else ""
    found |= {"many": wording.figures(by["pieces"]), "many_words": f"by {day}{kept}{f';{then}' if then else ''}."}
    if parts and min(part["chance"] for part in parts) < answer["sure"]:
        found["many_words"] += " Each in a run of its own; side by side they are less sure than one alone."
    if len(parts) == 2:
        found["split"] = ", ".join(
            f"{wording.figures(part['pieces'])} on {_on(dt.date.fromisoformat(part['day']), answer)}" for part in parts
        )
    return found


def given(order: Order) -> str:
    """Say that an order has its day: for all of it or in parts, or only said on the phone."""
    taken = clock.local_date(order.taken_at, shop_row.the_shop().zone)
    days = " and ".join(wording.on_day(day, seen=taken) for day in book.rows([order])[0].days)
    if order.said_until is not None:
        return f"Order {order.number} is only said on the phone, for {days}; it is kept until the end of {wording.on_day(order.said_until)}."
    return f"Order {order.number} has its day: {days}."


def looked(answer: Mapping[str, Any], day: dt.date | None) -> str:
    """Say how sure another day is, by the curve; nothing where none is written."""
    return f"{_on(day, answer)}: {wording.in_hundred(ship_day.chance_on(answer, day))} times in 100" if day else ""


def _on(day: dt.date, answer: Mapping[str, Any]) -> str:
    return wording.on_day(day, seen=dt.date.fromisoformat(answer["first_day"]))


def _never(answer: Mapping[str, Any]) -> str:
    never = wording.in_hundred(answer["never"])
    return f"{never} times in 100 it is not sent within 400 days." if never else "see below what holds it up."


def holds(answer: Mapping[str, Any]) -> list[dict[str, object]]:
    """Say what holds it up, the longest wait first: how often it waits, drawn to scale too, and how long."""
    return [
        {
            "what": str(one["what"])[:1].upper() + str(one["what"])[1:],
            "share": wording.in_hundred(one["share"]),
            "width": f"{99 * one['share']:.1f}%",
            "days": _days_long(one["days"]),
        }
        for one in answer["holds"]
        if one["days"] >= SHORTEST_WAIT
    ]


def _days_long(days: float) -> str:
    figure = f"{days:.1f}"
    return f"{figure} {'day' if figure == '1.0' else 'days'}"


def wanted(question: Question) -> str:
    """Say how the wanted chance came about: the shop's figure for the kind of customer, or another one that was asked for."""
    shop, here = shop_row.the_shop(), round(question.wanted_ppm / 10_000)
    told = f"The shop tells a one-off customer a day that is {shop.sure_one_off} in 100 sure, a dealer one that is {shop.sure_dealer}."
    usual = round(100 * sure_of(question.customer_kind, shop))
    return told if here == usual else f"{told} Here {here} in 100 was asked for."


def wanted_for(question: Question) -> str:
    """Say whose figure the wanted chance is, for the line in the drawing."""
    if round(1e6 * sure_of(question.customer_kind, shop_row.the_shop())) != question.wanted_ppm:
        return "what was asked for"
    return f"what {'a dealer' if question.customer_kind == Customer.Kind.DEALER else 'a one-off customer'} is told"


def thumb(answer: Mapping[str, Any]) -> str:
    """Say the day by the rule of thumb; nothing where there is none."""
    day = _day(answer.get("plain"))
    said = "By the rule of thumb, with nobody else’s work in the way, it would go on"
    return f"{said} {wording.on_day(day)}; that is kept for the record." if day else ""


def all_of_it(question: Question) -> str:
    """Say all of it with its verb: all 30 are, it is, everything is."""
    if len(question.lines) != 1:
        return "everything is"
    pieces = int(question.lines[0]["pieces"])
    return {1: "it is", 2: "both are"}.get(pieces, f"all {wording.figures(pieces)} are")


def _made_to_order(row: Mapping[str, Any]) -> re.Match[str] | None:
    """Return order and line of what is made to order and has no pattern; the calculator names it so, as 12.1."""
    return None if row["run"] else _MADE_TO_ORDER.fullmatch(str(row["item"]))


def stuck(row: Mapping[str, Any]) -> str:
    """Say why a run cannot go on."""
    made = _made_to_order(row)
    if made:
        return (
            f"Order {made[1]}, line {made[2]} is made to order and is like no pattern of the shop: its steps are not known. "
            "Give a day by hand, on the order’s page."
        )
    run = f"Run {row['run']}, " if row["run"] and "+" not in row["run"] else ""
    at = f" stops before {row['name']}" if row["name"] else ""
    return f"{run}{row['item']}{at}: {row['why']}."


def others(rows: Sequence[Mapping[str, Any]], caption: str, *, after: str = "with this one") -> Ruled | None:
    """Say how sure the days of other orders are before and after; `after` is the head of the last column."""
    columns = [
        Column("order"),
        Column("day given"),
        Column("now, in 100", figures=True),
        Column(after, figures=True),
    ]
    lines = [
        [
            f"{one['order']}{', line ' + str(one['line']) if one['line'] else ''} {one['customer']}",
            wording.on_day(dt.date.fromisoformat(one["day"])),
            wording.in_hundred(one["before"], wanted=one["wanted"]),
            _after(one),
        ]
        for one in rows
    ]
    return Ruled(caption, columns, lines) if lines else None


def _after(one: Mapping[str, Any]) -> str:
    after = wording.in_hundred(one["after"], wanted=one["wanted"])
    return f"{after}, below the {round(100 * one['wanted'])} wanted" if one["after"] < one["wanted"] else str(after)


def ideas(found: Sequence[Mapping[str, Any]]) -> Ruled | None:
    """Say what would bring it forward."""
    columns = [Column("if"), Column("it goes on"), Column("days sooner", figures=True), Column("who loses by that")]
    rows = [
        [
            one["what"],
            wording.on_day(dt.date.fromisoformat(one["day"])) if one["day"] else _EVER,
            one["gain"] if one["gain"] is not None else "now it is never sure enough",
            ", ".join(f"order {number}" for number in one["losers"]) or "nobody",
        ]
        for one in found
    ]
    return Ruled("What would bring it forward", columns, rows) if rows else None


def _day(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None

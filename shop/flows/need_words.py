"""How an item stands, in sentences: what there is of it and who wants it, what is on its way, what to do and why."""

import datetime as dt
from collections.abc import Sequence
from typing import Final

from inventory.calc.reorder.deciding import Cause
from inventory.models import PurchaseOrder
from orders.queries.reorder.needs import Need
from shop.flows import buying_words
from shop.flows.night import words

NAMED: Final = 3  # orders that are named in one sentence


def order_by(need: Need, today: dt.date) -> str:
    """Say by when to order it, or what else is to be done about it."""
    if not need.due and need.pressing:
        return to_do(need) or "in the week"
    day = need.decision.order_by
    if day is None:
        return "not within a year"
    return "today" if day <= today else words.day(day)


def left(need: Need) -> str:
    """Say what there is of it: free, in the works, inside what it goes into, on order; and who wants it."""
    item, place = need.item, need.position
    said = [f"{buying_words.amount(item, place.free)} free" if place.free > 0 else "none free"]
    if place.ends:
        said.append(f"{buying_words.amount(item, place.ends)} in ends too short for a blank")
    said += _in_the_works(need) if need.make else _coming(need)
    if place.owed >= 1:
        planned = ", which the week sheet plans" if need.make else ""
        said.append(f"{buying_words.amount(item, place.owed)} wanted by orders{planned}")
    if place.for_shelf >= 1:
        first = min(place.shelf)
        said.append(
            f"{buying_words.amount(item, place.for_shelf)} wanted from {words.day(first)} on for what is made for the shelf"
        )
    return words.capital(", ".join(said)) + "."


def _in_the_works(need: Need) -> list[str]:
    item, place = need.item, need.position
    works, said = place.floor + place.heads, []
    if works >= 1:
        counted = ", counted as there" if place.free <= 0 else ""
        said.append(f"{buying_words.amount(item, works)} in the works{counted}")
    if place.inside >= 1:
        said.append(f"{buying_words.amount(item, place.inside)} inside what is made already")
    wish = sum(one.qty for one in need.asked.coming)
    if wish:
        said.append(f"{buying_words.amount(item, wish)} for the shelf in the week")
    return said


def _coming(need: Need) -> list[str]:
    item, place = need.item, need.position
    said = [f"{buying_words.amount(item, place.inside)} inside what is made already"] if place.inside >= 1 else []
    out = sum(qty for line, qty in place.coming if line.order.number not in place.not_sent)
    if out:
        said.append(f"{buying_words.amount(item, out)} on order")
    if place.on_order > out:
        said.append(f"{buying_words.amount(item, place.on_order - out)} in {_orders(sorted(place.not_sent))}, not sent")
    return said


def _orders(numbers: Sequence[int]) -> str:
    """Name orders to suppliers: order 244, orders 240 and 244."""
    named = [str(one) for one in numbers[:NAMED]]
    if len(numbers) > NAMED:
        named.append(f"{len(numbers) - NAMED} more")
    return f"{words.plural('order', len(numbers))} {_and(named)}"


def _and(named: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(named[:-1]), named[-1])))


def to_do(need: Need) -> str:
    """Say in a few words what to do about what is on its way: send order 244, ask for order 240; nothing for what is made."""
    numbers = sorted({*need.too_late, *need.late}) if need.runs_dry or not need.late else sorted(need.late)
    unsent = [one for one in numbers if one in need.position.not_sent]
    out = [one for one in numbers if one not in need.position.not_sent]
    said = [f"send {_orders(unsent)}"] if unsent else []
    said += [f"ask for {_orders(out)}"] if out else []
    return ", ".join(said)


def on_its_way(need: Need) -> str:
    """Say which orders it is in and for when each was promised, the first to come first: order 244 promised for Thu 10 Dec."""
    orders = {line.order.number: line.order for line, _ in need.position.coming}
    last = dt.date.max
    rows = sorted(orders.values(), key=lambda one: (one.confirmed_on or one.wanted_on or last, one.number))
    said = [f"order {one.number} {_when(one, need)}" for one in rows[:NAMED]]
    return _and(said) if said else ""


def _when(order: PurchaseOrder, need: Need) -> str:
    if order.number in need.position.not_sent:
        return "written and not sent"
    if order.confirmed_on:
        return f"promised for {words.day(order.confirmed_on)}"
    return f"wanted for {words.day(order.wanted_on)}" if order.wanted_on else "without a day"


def stands(need: Need, today: dt.date) -> str:
    """Say how it stands with what is not to be ordered now: enough, or how it runs dry before what is on its way comes."""
    day = need.runs_dry or (None if need.late else need.may_run_dry)
    if day is not None:
        runs = "Runs" if need.runs_dry else "May run"
        when = ("today" if need.runs_dry else "from today on") if day <= today else _from(day, sure=bool(need.runs_dry))
        if need.make:
            return f"{runs} dry {when}, before what is made for the shelf is there."
        return f"{runs} dry {when}, before {_next(need)}; {to_do(need)}."
    if need.late:
        first = min(need.late.values())
        verb = "is" if len(need.late) == 1 else "are"
        was = words.capital(_orders(sorted(need.late)))
        return f"{was} {verb} late, since {words.day(first)}, and without {'it' if verb == 'is' else 'them'} there is not enough; {to_do(need)}."
    return "Enough."


def _from(day: dt.date, *, sure: bool) -> str:
    return words.day(day) if sure else f"from {words.day(day)} on"


def _next(need: Need) -> str:
    numbers = need.too_late
    return f"{_orders(numbers)} {'comes' if len(numbers) == 1 else 'come'}"


def why(need: Need, *, state: bool = True) -> str:
    """Say what the decision rests on, in a sentence or two, and with `state` first how it stands."""
    item, decision = need.item, need.decision
    facts = decision.why
    point = buying_words.amount(item, decision.point)
    if facts.cause is Cause.AT_OWN_POINT:
        return f"Your own point of {point} is reached."
    if facts.cause is Cause.OWED:
        return "Orders wait for it, and nothing else is expected."
    if facts.cause is Cause.NOTHING_EXPECTED:
        asked = any(need.basis.history)
        return (
            "Asked for in too few weeks to reckon with; a point of your own holds."
            if asked
            else "Nobody has asked for it."
        )
    takes = f"the {round(facts.lead_usual)} days until it is {'made' if need.make else 'here'}"
    reckoned = f"{buying_words.amount(item, facts.needed)} for {takes} ({facts.lead_long} nine times in ten)"
    safe = f"{buying_words.amount(item, facts.safety)} so that it runs dry in {_runs_dry(need)} of 100 reorders"
    own = decision.point > round(facts.needed + facts.safety)
    if own:
        said = f"Your own point is {point}; reckoned it were {reckoned} and {safe}."
    else:
        said = f"The point is {point}: {reckoned} and {safe}."
    return f"{stands(need, need.today)} {said}" if state and not decision.order_now else said


def _runs_dry(need: Need) -> str:
    return str(round(100 * (1 - need.asked.service)))

"""What is to be ordered or made, in sentences: how long it lasts, by when, how many and why; the same on paper and screen."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from inventory.calc.buying.terms import Why
from inventory.models import Item
from orders.queries.reorder.needs import Need
from orders.queries.reorder.proposals import Proposal, ProposedLine
from orders.queries.reorder.steel_bought import Bars
from shop.flows.night import words
from shop.shared import units

Facts = Mapping[str, int | float | str]
_STORED = {Item.StoredAs.LP_GAS: "LP-gas", Item.StoredAs.FLAMMABLE: "flammables", Item.StoredAs.OXYGEN: "oxygen"}
_NAMED = 3
_MG_PER_LB, _UL_PER_GAL, _FL_OZ_PER_GAL, _WHOLE_FROM = 453_592.37, 3_785_411.784, 128, 10


def amount(item: Item, qty: float) -> str:
    """Write a quantity inside a sentence, no finer than it is known: 26, 12 ft, 3.5 lb, 20 fl oz."""
    whole = max(0, round(qty))
    if item.unit == Item.Unit.PIECE:
        return words.grouped(whole)
    if item.unit == Item.Unit.NM:
        return words.spoken(item, whole)
    if item.unit == Item.Unit.MG:
        return f"{_about(whole / _MG_PER_LB)} lb"
    gallons = whole / _UL_PER_GAL
    return f"{_about(gallons)} gal" if gallons >= 1 else f"{round(gallons * _FL_OZ_PER_GAL)} fl oz"


def _about(value: float) -> str:
    """Write a number with one decimal below ten, whole from there on."""
    return f"{value:.0f}" if value >= _WHOLE_FROM else f"{value:.1f}".removesuffix(".0")


def lasts(need: Need, today: dt.date) -> str:
    """Say until when it lasts, half the time and with the wanted chance."""
    decision = need.decision
    if decision.lasts_until is None:
        return "more than a year"
    if decision.lasts_until <= today:
        return "today"
    if (
        need.make and need.asked.free <= 0
    ):  # of what is made here orders have their share elsewhere: the day is of the next one
        return f"today, for none is left; the next is likely asked for by {words.day(decision.lasts_until + dt.timedelta(days=1))}"
    if decision.last_safe_day is None or decision.last_safe_day == decision.lasts_until:
        return words.day(decision.lasts_until)
    safe = "from today" if decision.last_safe_day <= today else f"from {words.day(decision.last_safe_day)}"
    return f"{words.day(decision.lasts_until)}, not sure {safe} on"


def learned(need: Need) -> str:
    """Say how the forecast was chosen and what its errors are beside the naive one."""
    one = need.basis
    if one.silent:
        weeks = sum(1 for week in one.history if week)
        said = f"Asked for in {words.count(weeks, 'week')} only" if weeks else "Never asked for"
        return f"{said}, so nothing is expected."
    a_week = amount(need.item, 7 * one.per_day) if 7 * one.per_day >= 1 else f"{7 * one.per_day:.1f}"
    said = f"About {a_week} a week are expected, by {one.method}, from {words.count(len(one.history), 'week')}."
    if one.error is None or one.naive_error is None:
        return said + " Too few weeks to judge it by."
    off, naive = amount(need.item, one.error), amount(need.item, one.naive_error)
    return said + f" Over a reorder it was off by {off}; guessing as much as last time was off by {naive}."


def reasons(line: ProposedLine, currency: str) -> str:
    """Say why so many of a line are proposed."""
    said = [_reason(one, line, currency) for one in line.why]
    return " ".join(one for one in said if one)


def _reason(one: Why, line: ProposedLine, currency: str) -> str:
    said = _REASONS.get(one.kind)
    return said(line, one.facts, currency) if said else ""


def _due(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    cover = f" and for {facts['cover_days']} days beyond it" if line.need.decision.per_day else ""
    return f"{amount(line.need.item, float(facts['least']))} up to the point{cover}."


def _usual(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    item = line.need.item
    return f"{amount(item, float(facts['least']))} up to the point, in your own quantity of {amount(item, float(facts['usual']))}."


def _joined(line: ProposedLine, facts: Facts, currency: str) -> str:
    del line, currency
    return f"Due in {facts['left_days']} days; comes along."


def _rounded(line: ProposedLine, facts: Facts, currency: str) -> str:
    del facts, currency
    each = f"bars of {line.bars.typed}" if line.bars else words.plural(line.need.item.buy_unit or "piece", 2)
    return f"In whole {each}."


def _price(line: ProposedLine, facts: Facts, currency: str) -> str:
    many = amount(line.need.item, float(facts["units"]))
    return (
        f"From {many} on one costs less: {_money(facts['saves'], currency)} in all, and they last {facts['days']} days."
    )


def _minimum(line: ProposedLine, facts: Facts, currency: str) -> str:
    more = amount(line.need.item, float(facts["more"]))
    return f"{more} more to reach their smallest order of {_money(facts['minimum'], currency)}."


def _freight(line: ProposedLine, facts: Facts, currency: str) -> str:
    more, start = amount(line.need.item, float(facts["more"])), _money(facts["from"], currency)
    return f"{more} more: from {start} on carriage is {_money(facts['saves'], currency)} less."


def _most(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    what = "are used while they keep" if facts["what"] == "shelf life" else "have room"
    return (
        f"No more than {amount(line.need.item, float(facts['most']))} {what}.{_short(line.need.item, facts['short'])}"
    )


def _room(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    kind, item = _STORED.get(Item.StoredAs(str(facts["what"])), "it"), line.need.item
    later = f"; there is room for the rest in about {facts['days']} days" if facts.get("days") else ""
    rest = f" {words.capital(amount(item, float(facts['rest'])))} fewer{later}." if facts["rest"] else ""
    return f"The limit for {kind} leaves room for {amount(item, float(facts['room']))}.{rest}{_short(item, facts['short'])}"


def _room_unknown(line: ProposedLine, facts: Facts, currency: str) -> str:
    del line, currency
    kind = _STORED.get(Item.StoredAs(str(facts["what"])), "it")
    return (
        f"It is kept in another unit than the limit for {kind}, which is not reckoned with: look whether there is room."
    )


def _for_money(line: ProposedLine, facts: Facts, currency: str) -> str:
    return f"Cut: {_money(facts['money'], currency)} may be spent.{_short(line.need.item, facts['short'])}"


def _no_price(line: ProposedLine, facts: Facts, currency: str) -> str:
    del line, facts, currency
    return "No price is noted."


_REASONS: Final[Mapping[str, Callable[[ProposedLine, Facts, str], str]]] = {
    "due": _due,
    "usual": _usual,
    "joined": _joined,
    "rounded": _rounded,
    "price": _price,
    "minimum": _minimum,
    "freight": _freight,
    "most": _most,
    "room": _room,
    "room not known": _room_unknown,
    "money": _for_money,
    "no price": _no_price,
}


def _short(item: Item, short: float | str) -> str:
    return f" Still short: {amount(item, float(short))}." if float(short) else ""


def _money(minor: float | str, currency: str) -> str:
    return units.money(round(float(minor)), currency)


def notes(proposal: Proposal, currency: str) -> list[str]:
    """Say what is to be known about an order as a whole."""
    said = []
    for one in proposal.notes:
        if one.kind == "minimum out of reach":
            said.append(_out_of_reach(one.facts, currency))
        elif one.kind == "minimum over money":
            said.append(
                f"Their smallest order is {_money(one.facts['minimum'], currency)}; the money for buying, "
                f"{_money(one.facts['money'], currency)}, does not reach for it. Ask whether they take less."
            )
        elif one.kind == "minimum not known":
            said.append(
                f"Their smallest order is {_money(one.facts['minimum'], currency)}; whether it is reached is not known, "
                "as prices are missing."
            )
        elif one.kind == "money":
            said.append(
                f"The money for buying, {_money(one.facts['money'], currency)}, does not reach for all that is due."
            )
    return said


def _out_of_reach(facts: Facts, currency: str) -> str:
    """Say that the smallest order is not reached with what can be used, and from when on it would be."""
    said = (
        f"Their smallest order is {_money(facts['minimum'], currency)}; this one is {_money(facts['value'], currency)}, "
        f"and all that can be used in a year comes to {_money(facts['reach'], currency)}. Ask whether they take it."
    )
    if "wait_days" not in facts:
        return said
    lasts = f", and what is due lasts about {facts['lasts_days']}" if "lasts_days" in facts else ""
    return said + f" It would be reached in {words.count(int(facts['wait_days']), 'day')}{lasts}."


def many(line: ProposedLine) -> str:
    """Write how many are proposed, as a person says it: 6 dozen, 3 bars of 20 ft, 40 pieces."""
    if line.bars:
        count = line.units // line.bars.length_nm
        return f"{words.grouped(count)} {words.plural('bar', count)} of {line.bars.typed}"
    return words.spoken(line.need.item, line.units)


def steel(bars: Bars, units_: int) -> str:
    """Say what bars give and what is lost of them."""
    count = units_ // bars.length_nm
    if not bars.blanks:
        return ""
    lost = 100 * bars.lost_nm / bars.length_nm
    return f"{words.capital(words.count(count, 'bar'))} give {words.grouped(count * bars.blanks)} blanks; {lost:.1f} of 100 are kerf and ends."


def headline(found: Sequence[Proposal]) -> str:
    """Say in a few words what is to be ordered, the suppliers by name where they are few."""
    names = [one.supplier.name if one.supplier else "goods without a supplier" for one in found]
    if len(names) > _NAMED:
        return words.count(len(names), "supplier")
    return ", ".join(names)

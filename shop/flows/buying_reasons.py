"""Why so many of a thing are proposed, and what is to be known of an order as a whole, in sentences."""

from collections.abc import Callable, Mapping
from typing import Final

from inventory.calc.buying.terms import ABOUT_COSTS, SHELF_LIFE, Why
from inventory.calc.reorder.deciding import Cause
from inventory.models import Item
from orders.queries.reorder.proposals import Proposal, ProposedLine
from shop.flows.buying_amounts import amount
from shop.flows.night import words
from shop.shared import units

Facts = Mapping[str, int | float | str]
_STORED = {Item.StoredAs.LP_GAS: "LP-gas", Item.StoredAs.FLAMMABLE: "flammables", Item.StoredAs.OXYGEN: "oxygen"}


def reasons(line: ProposedLine, currency: str, *, costs: bool = True) -> str:
    """Say why so many of a line are proposed; without what tells of money where costs are not to be seen."""
    said = [_reason(one, line, currency) for one in line.why if costs or one.kind not in ABOUT_COSTS]
    return " ".join(one for one in said if one)


def _reason(one: Why, line: ProposedLine, currency: str) -> str:
    said = _REASONS.get(one.kind)
    return said(line, one.facts, currency) if said else ""


def _due(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    cover = ""
    if facts["cover"]:
        cover = f", and {amount(line.need.item, float(facts['cover']))} for {facts['cover_days']} days beyond it"
    return f"{_up_to(line, facts)}{cover}."


def _usual(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    return f"{_up_to(line, facts)}, in your own quantity of {amount(line.need.item, float(facts['usual']))}."


def _up_to(line: ProposedLine, facts: Facts) -> str:
    """Say what is due, so that it can be reckoned: from where it stands up to the point, and until the next look."""
    item, decision = line.need.item, line.need.decision
    if decision.why.cause is Cause.OWED:
        return f"{amount(item, float(facts['least']))} that orders wait for"
    gap, more, point = float(facts["to_point"]), float(facts["until_next_look"]), amount(item, decision.point)
    stands = amount(item, decision.position) if decision.position >= 0 else f"{amount(item, -decision.position)} owed"
    until = "until the next look, a day" if decision.per_day else "beyond it"
    if not gap:
        return f"At its point of {point}: {amount(item, more)} {until}"
    return f"{amount(item, gap)} from {stands} up to the point of {point}" + (
        f", {amount(item, more)} {until}" if more else ""
    )


def _joined(line: ProposedLine, facts: Facts, currency: str) -> str:
    del line, currency
    return f"Due in {facts['left_days']} days; comes along."


def _rounded(line: ProposedLine, facts: Facts, currency: str) -> str:
    del facts, currency
    each = f"bars of {line.bars.typed}" if line.bars else words.plural(line.need.item.buy_unit or "piece", 2)
    return f"In whole {each}."


def _price(line: ProposedLine, facts: Facts, currency: str) -> str:
    item = line.need.item
    many = amount(item, float(facts["units"]))
    if "than" in facts:
        return f"{many} cost {_money(facts['less'], currency)} less than {amount(item, float(facts['than']))}."
    begin = f"By {amount(item, float(facts['by']))}" if "by" in facts else f"From {many} on"
    return f"{begin} one costs less: {_money(facts['saves'], currency)} in all, and they last {facts['days']} days."


def _price_from(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    return f"The noted price holds from {amount(line.need.item, float(facts['units']))} on."


def _minimum(line: ProposedLine, facts: Facts, currency: str) -> str:
    more = amount(line.need.item, float(facts["more"]))
    return f"{more} more to reach their smallest order of {_money(facts['minimum'], currency)}."


def _freight(line: ProposedLine, facts: Facts, currency: str) -> str:
    more, start = amount(line.need.item, float(facts["more"])), _money(facts["from"], currency)
    return f"{more} more: from {start} on carriage is {_money(facts['saves'], currency)} less."


def _most(line: ProposedLine, facts: Facts, currency: str) -> str:
    del currency
    item, keeps = line.need.item, facts["what"] == SHELF_LIFE
    most, bought, short = float(facts["most"]), float(facts["bought"]), _short(line.need.item, facts["short"])
    if bought > most:
        pack = _pack(line, int(bought))
        return f"About {amount(item, most)} of {pack} are used while they keep; ask for a smaller pack.{short}"
    if not most:
        return ("What is there is all that is used while it keeps." if keeps else "There is no room for more.") + short
    what = "are used while they keep" if keeps else "have room"
    less = "" if bought else ", and fewer are not sold" if keeps else ", and that is less than is sold at the least"
    return f"No more than {amount(item, most)} {what}{less}.{short}"


def _pack(line: ProposedLine, units_: int) -> str:
    """Name the smallest quantity a thing is sold in: a box of 1000."""
    item = line.need.item
    if line.bars or not item.buy_unit or units_ != item.issue_per_buy:
        return amount(item, units_)
    article = "an" if item.buy_unit[:1].lower() in "aeiou" else "a"
    return f"{article} {item.buy_unit} of {amount(item, units_)}"


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
    left_ = _money(facts["money"], currency)
    return f"Cut: {left_} of the money for buying is left for it.{_short(line.need.item, facts['short'])}"


def _no_price(line: ProposedLine, facts: Facts, currency: str) -> str:
    del line, facts, currency
    return "No price is noted."


_REASONS: Final[Mapping[str, Callable[[ProposedLine, Facts, str], str]]] = {
    "due": _due,
    "usual": _usual,
    "joined": _joined,
    "rounded": _rounded,
    "price": _price,
    "price from": _price_from,
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
                f"Their smallest order is {_money(one.facts['minimum'], currency)}; what is left for it of the "
                f"money for buying, {_money(one.facts['money'], currency)}, does not reach. Ask whether they take less."
            )
        elif one.kind == "minimum not known":
            said.append(
                f"Their smallest order is {_money(one.facts['minimum'], currency)}; whether it is reached is not known, "
                "as prices are missing."
            )
        elif one.kind == "money":
            said.append(
                f"{_money(one.facts['money'], currency)} of the money for buying is left for them, which does not reach "
                "for all that is due."
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

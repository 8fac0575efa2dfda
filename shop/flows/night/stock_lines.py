"""The night's lines about stock: what to order, what to make, which purchase orders are late or due."""

import datetime as dt
from collections.abc import Sequence

from inventory.models import PurchaseOrder, PurchaseOrderLine
from inventory.queries import lasting
from orders.models import OrderLine
from orders.queries.reorder import needs, proposals
from orders.queries.reorder.needs import Need
from orders.queries.reorder.proposals import Proposal, ProposedLine
from shop.flows import buying_words, need_words, purchase_letters
from shop.flows.night import goods_lines, words
from shop.flows.night.body import Line, Link, Part, path
from shop.shared import shop_row

LONGEST_NAME = 32  # of an item in the subject; beyond that its code


def order_and_make(*, at: dt.datetime, today: dt.date) -> list[Part]:
    """Return the part "Order" and the part "Make", each only where it has lines."""
    shop, now = shop_row.the_shop(), needs.stands(at=at)
    found = needs.decided(now)
    proposed = proposals.of_needs(found, now, shop)
    to_make = [one for one in found if one.make and one.due]
    parts = []
    unsent = goods_lines.not_sent()
    if proposed or unsent:
        parts.append(_order_part(proposed, unsent, today, shop.currency))
    if to_make:
        lines = (_make_line(to_make[0], today),) if len(to_make) == 1 else (_make_lines(to_make, today),)
        counted = words.count(len(to_make), "thing") + " to make"
        parts.append(Part("make", "Make", lines, _said("make", to_make), counted))
    return [*parts, *goods_lines.runs_dry(found, today=today)]


def _order_part(proposed: Sequence[Proposal], unsent: Sequence[Line], today: dt.date, currency: str) -> Part:
    """Write what is written and not sent, and then what is to be ordered, what ends first, first."""
    rows = sorted(
        proposed, key=lambda one: min((_ends(line.need) for line in one.lines if line.need.due), default=dt.date.max)
    )
    due = [line.need for one in rows for line in one.bought if line.need.due]
    kept_back = sum(len(one.kept_back) for one in rows)
    none = f"{words.count(kept_back, 'thing')} due that cannot be bought"
    lines = tuple(line for one in rows for line in _supplier_lines(one, today, currency))
    said = [_unsent_said(unsent)] if unsent else []
    said += [_said("order", due)] if due else []
    counted = [f"{words.count(len(unsent), 'order')} not sent"] if unsent else []
    counted += [words.count(len(due), "thing") + " to order"] if due else []
    if kept_back and not counted:
        said, counted = [none], [none]
    return Part("order", "Order", (*unsent, *lines), "; ".join(said), ", ".join(counted))


def _ends(need: Need) -> dt.date:
    return need.decision.lasts_until or dt.date.max


def _unsent_said(unsent: Sequence[Line]) -> str:
    if len(unsent) == 1:
        return f"send order {unsent[0].facts[goods_lines.NOT_SENT]}"
    return f"send {words.count(len(unsent), 'order')}"


def one_offs(lines: Sequence[OrderLine]) -> list[Part]:
    """Return the part about lines that count as one-off from this night on, for a person to say otherwise."""
    if not lines:
        return []
    found = tuple(_one_off_line(line) for line in lines)
    said = f"{words.count(len(found), 'order')} counted as one-off"
    return [Part("one_off", "One-off?", found, said, said)]


def _one_off_line(line: OrderLine) -> Line:
    assert line.item is not None
    facts = {"order": line.order.number, "line": line.number, "item": line.item.code, "quantity": line.ordered}
    said = f"{line.item.name} for {line.order.customer.name}: far more than usual, so the forecast leaves it out."
    link = Link(
        path("staff:order_line", line.order.number, line.number, otherwise="staff:counter"), "Say if it comes again"
    )
    return Line(*words.quantity(line.item, line.ordered), f"Order {line.order.number}.", said, link, facts)


def late_deliveries(*, today: dt.date) -> list[Part]:
    """Return the part "Late" with the purchase orders whose day has passed."""
    late = lasting.overdue_orders(today=today)
    if not late:
        return []
    lines = []
    for order, day in late:
        days = (today - day).days
        asked = purchase_letters.asked(order, today) or "Ask them for a day"
        said = f"{purchase_letters.meant(order, day)}; still to come: {_open_lines(order)}. {asked}."
        lines.append(_purchase_line(order, day, (str(days), words.plural("day", days) + " late"), said))
    said = f"{words.count(len(late), 'delivery')} {'is' if len(late) == 1 else 'are'} late"
    return [Part("late", "Late to come", tuple(lines), said, said)]


def arriving(*, today: dt.date) -> list[Line]:
    """Return a line for each purchase order that is to arrive today."""
    lines = []
    for order, day in lasting.arriving_orders(today=today):
        items = sum(1 for line in order.lines.all() if lasting.left(line))
        figure = (str(items), words.plural("line", items))
        lines.append(_purchase_line(order, day, figure, f"{_meant(order)} for today: {_open_lines(order)}."))
    return lines


def _facts(need: Need) -> dict[str, object]:
    item, decision = need.item, need.decision
    return {
        "item": item.code,
        "unit": item.unit,
        "available": need.position.free,
        "waiting": round(need.position.waiting + sum(need.position.later.values())),
        "on_order": need.position.on_order,
        "position": decision.position,
        "reorder_point": decision.point,
        "use_per_day": round(decision.per_day, 6),
        "lasts_until": decision.lasts_until.isoformat() if decision.lasts_until else None,
        "order_by": decision.order_by.isoformat() if decision.order_by else None,
    }


def _supplier_lines(proposal: Proposal, today: dt.date, currency: str) -> list[Line]:
    """Write what is due from a supplier: one thing in full, several in one line that says what ends first."""
    due = [line for line in proposal.bought if line.need.due]
    along = [line for line in proposal.bought if not line.need.due]
    kept_back = [_order_line(proposal, line, today, currency) for line in proposal.kept_back]
    if len(due) <= 1:
        lines = [_order_line(proposal, line, today, currency) for line in due]
        return [*lines, *([_along(proposal, along)] if along else []), *kept_back]
    named = "; ".join(f"{buying_words.many(line)} of {line.need.item.name}" for line in due)
    first = min((line.need for line in due), key=lambda one: (_ends(one), one.urgency))
    said = f"{named}. {words.capital(first.item.name)} lasts until {buying_words.lasts(first, today)}."
    if along:
        said += (
            f" {words.capital(words.count(len(along), 'thing'))} more {'comes' if len(along) == 1 else 'come'} along."
        )
    name = proposal.supplier.name if proposal.supplier else "No supplier yet"
    link = Link(path("staff:to_order", otherwise="staff:door"), "See today's orders")
    facts = {"supplier": name, "items": [{**_facts(one.need), "quantity": one.units} for one in (*due, *along)]}
    return [Line(str(len(due)), words.plural("thing", len(due)), f"{name}:", said, link, facts), *kept_back]


def _along(proposal: Proposal, along: Sequence[ProposedLine]) -> Line:
    named = "; ".join(f"{buying_words.many(line)} of {line.need.item.name}" for line in along)
    link = Link(path("staff:to_order", otherwise="staff:door"), "See today's orders")
    facts = {"items": [{**_facts(line.need), "quantity": line.units} for line in along]}
    supplier = proposal.supplier.name if proposal.supplier else "the same order"
    return Line(str(len(along)), "more", f"come along from {supplier}:", f"{named}.", link, facts)


def _order_line(proposal: Proposal, line: ProposedLine, today: dt.date, currency: str) -> Line:
    """Write one line of a supplier's order of today; a quantity that was cut says why."""
    need, item = line.need, line.need.item
    figure, _, unit = buying_words.many(line).partition(" ")
    supplier = f", {proposal.supplier.name}" if proposal.supplier else ""
    said = [need_words.left(need), f"Lasts until {buying_words.lasts(need, today)}."]
    if not line.units:
        said.append(f"Cannot be bought now. {buying_words.reasons(line, currency)}")
    link = Link(path("staff:to_order", otherwise="staff:door"), "See today's orders")
    facts = {**_facts(need), "quantity": line.units, "supplier": proposal.supplier.name if proposal.supplier else None}
    return Line(figure, unit, f"{item.name}{supplier}.", " ".join(said), link, facts)


def _make_lines(found: Sequence[Need], today: dt.date) -> Line:
    """Write several things to make in one line: how many good ones of each at the least, and which ends first."""
    named = "; ".join(f"{buying_words.amount(one.item, one.decision.least)} {one.item.name}" for one in found)
    first = min(found, key=lambda one: (_ends(one), one.urgency))
    said = f"{named}; good ones at the least, beyond what orders want. {words.capital(first.item.name)} lasts until {buying_words.lasts(first, today)}."
    link = Link(f"{path('staff:week')}#shelf", "See what fits the week")
    facts = {"items": [{**_facts(one), "quantity": one.decision.least} for one in found]}
    return Line(str(len(found)), words.plural("thing", len(found)), "For the shelf:", said, link, facts)


def _make_line(need: Need, today: dt.date) -> Line:
    item = need.item
    said = f"{need_words.left(need)} Lasts until {buying_words.lasts(need, today)}."
    link = Link(path("staff:item_lasts", item.code, otherwise="staff:shelf"), "See the run-down")
    facts = {**_facts(need), "quantity": need.decision.least}
    return Line(*words.quantity(item, need.decision.least), f"{item.name}.", said, link, facts)


def _said(verb: str, found: list[Need]) -> str:
    """Return what the subject says: the one urgent thing by its name, several by their number."""
    if len(found) == 1:
        return f"{verb} {_short(found[0])} today"
    return f"{verb} {words.count(len(found), 'thing')} today"


def _short(need: Need) -> str:
    name = need.item.name.partition(",")[0].strip()
    return name if name and len(name) <= LONGEST_NAME else need.item.code


def _purchase_line(order: PurchaseOrder, day: dt.date, figure: tuple[str, str], said: str) -> Line:
    facts = {"purchase_order": order.number, "supplier": order.supplier.name, "day": day.isoformat()}
    link = Link(path("staff:door_order", order.number, otherwise="staff:door"), "See what is to come")
    return Line(*figure, f"Purchase order {order.number}, {order.supplier.name}.", said, link, facts)


def _meant(order: PurchaseOrder) -> str:
    return "Promised" if order.confirmed_on else "Wanted"


def _open_lines(order: PurchaseOrder) -> str:
    left = [line for line in order.lines.select_related("item__section").order_by("number") if lasting.left(line)]
    named = [f"{_to_come(line)} of {line.item.name}" for line in left[:3]]
    more = [f"{len(left) - 3} more"] if len(left) > 3 else []
    return ", ".join(named + more)


def _to_come(line: PurchaseOrderLine) -> str:
    if line.bars:
        return words.count(line.bars - line.received_bars, "bar")
    return words.spoken(line.item, lasting.left(line))

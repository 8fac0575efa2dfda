"""The night's lines about stock: what to order, what to make, which purchase orders are late or due."""

import datetime as dt
from urllib.parse import urlencode

from inventory.models import Item, PurchaseOrder, PurchaseOrderLine
from inventory.queries import lasting
from inventory.services import reordering
from inventory.services.reordering import Need
from shop.flows.night import words
from shop.flows.night.body import Line, Link, Part, path

LONGEST_NAME = 32  # of an item in the subject; beyond that its code


def order_and_make(*, at: dt.datetime, today: dt.date) -> list[Part]:
    """Return the part "Order" and the part "Make", each only where it has lines."""
    needs = reordering.check(at=at, today=today)
    to_order = [need for need in needs if not need.make]
    to_make = [need for need in needs if need.make]
    parts = []
    if to_order:
        lines = tuple(_need_line(need, today) for need in to_order)
        counted = words.count(len(lines), "thing") + " to order"
        parts.append(Part("order", "Order", lines, _said("order", to_order, today), counted))
    if to_make:
        lines = tuple(_need_line(need, today) for need in to_make)
        counted = words.count(len(lines), "thing") + " to make"
        parts.append(Part("make", "Make", lines, _said("make", to_make, today), counted))
    return parts


def late_deliveries(*, today: dt.date) -> list[Part]:
    """Return the part "Late" with the purchase orders whose day has passed."""
    late = lasting.overdue_orders(today=today)
    if not late:
        return []
    lines = []
    for order, day in late:
        days = (today - day).days
        said = f"{_meant(order)} for {words.day(day)}; still to come: {_open_lines(order)}. Ask them for a day."
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


def _need_line(need: Need, today: dt.date) -> Line:
    item = need.item
    figure, unit = words.quantity(item, need.quantity)
    name = f"{item.name}, {item.supplier.name}." if item.supplier and not need.make else f"{item.name}."
    facts = {
        "item": item.code,
        "available": need.available,
        "waiting": need.waiting,
        "on_order": need.on_order,
        "position": need.position,
        "reorder_point": need.point,
        "quantity": need.quantity,
        "unit": item.unit,
        "use_per_day": round(float(need.rate), 6),
        "lasts_until": need.lasts_until.isoformat() if need.lasts_until else None,
        "order_by": need.order_by.isoformat() if need.order_by else None,
    }
    return Line(figure, unit, name, " ".join(_sentences(need, today)), _need_link(need), facts)


def _need_link(need: Need) -> Link:
    """Lead to the written order with its line filled in, or to the item where the shop makes it."""
    item = need.item
    if need.make:
        return Link(path("staff:item", item.code, otherwise="staff:shelf"), "See the item")
    filled = {"item_0": item.code, "qty_0": _typed(item, need.quantity)}
    if item.grade and item.section:  # steel is ordered by grade, shape and size; how many bars is the smith's to say
        filled = {"item_0": item.grade.code, "shape_0": item.section.shape, "size_0": item.section.typed}
    if item.supplier:
        filled["supplier"] = item.supplier.name
    address = path("staff:door_order_new", otherwise="staff:door")
    return Link(f"{address}?{urlencode(filled)}", f"Order {words.spoken(item, need.quantity)}")


def _typed(item: Item, qty: int) -> str:
    """Write a quantity as the Door's form reads it: as bought where it comes out whole, else as it is kept."""
    packs, rest = divmod(qty, item.issue_per_buy)
    if item.buy_unit and not rest:
        return f"{packs} {item.buy_unit}"
    units = {Item.Unit.MG: f"{qty} mg", Item.Unit.UL: f"{qty} uL"}
    return units.get(Item.Unit(item.unit), str(qty))


def _sentences(need: Need, today: dt.date) -> list[str]:
    item = need.item
    free = words.spoken(item, max(0, need.available))
    said = [f"{words.capital(free)} left." if need.available > 0 else "None left."]
    if need.lasts_until is None:
        said.append(
            f"No use in the last {reordering.WINDOW_DAYS} days; the reorder point is {words.spoken(item, need.point)}."
        )
    elif need.available > 0:
        said.append(f"Lasts until {words.day(need.lasts_until)} at recent use.")
    said += _in_time(need, today)
    if need.waiting:
        said.append(f"Orders wait for {words.spoken(item, need.waiting)}.")
    if need.on_order:
        said.append(f"{words.capital(words.spoken(item, need.on_order))} ordered and not here yet.")
    return said


def _in_time(need: Need, today: dt.date) -> list[str]:
    """Say by when it has to be begun; for what the shop makes itself nobody owes it a time."""
    item = need.item
    if need.order_by is None or item.lead_days is None:
        unknown = need.lasts_until is not None and not need.make
        return ["How long it takes to come is not written down."] if unknown else []
    takes = f"It takes {words.count(item.lead_days, 'day')} to {'make' if need.make else 'come'}"
    late = (today - need.order_by).days
    if late > 0:
        return [f"{takes}: {words.count(late, 'day')} late already."]
    if late == 0:
        return [f"{takes}: today is the last day."]
    return [f"{takes}, so it can wait until {words.day(need.order_by)} at the latest."]


def _said(verb: str, needs: list[Need], today: dt.date) -> str:
    """Return what the subject says: the one urgent thing by its name, several by their number."""
    urgent = [need for need in needs if need.order_by is None or need.order_by <= today]
    if len(urgent) == 1:
        return f"{verb} {_short(urgent[0])} today"
    if urgent:
        return f"{verb} {words.count(len(urgent), 'thing')} today"
    if len(needs) == 1 and needs[0].order_by is not None:
        return f"{verb} {_short(needs[0])} by {words.day(needs[0].order_by)}"
    return f"{words.count(len(needs), 'thing')} to {verb}"


def _short(need: Need) -> str:
    name = need.item.name.partition(",")[0].strip()
    return name if name and len(name) <= LONGEST_NAME else need.item.code


def _purchase_line(order: PurchaseOrder, day: dt.date, figure: tuple[str, str], said: str) -> Line:
    facts = {"purchase_order": order.number, "supplier": order.supplier.name, "day": day.isoformat()}
    link = Link(path("staff:door_order", order.number, otherwise="staff:door"), "See what is to come")
    return Line(*figure, f"Purchase order {order.number}, {order.supplier.name}.", said, link, facts)


def _meant(order: PurchaseOrder) -> str:
    return "Confirmed" if order.confirmed_on else "Wanted"


def _open_lines(order: PurchaseOrder) -> str:
    left = [line for line in order.lines.select_related("item__section").order_by("number") if lasting.left(line)]
    named = [f"{_to_come(line)} of {line.item.name}" for line in left[:3]]
    more = [f"{len(left) - 3} more"] if len(left) > 3 else []
    return ", ".join(named + more)


def _to_come(line: PurchaseOrderLine) -> str:
    if line.bars:
        return words.count(line.bars - line.received_bars, "bar")
    return words.spoken(line.item, lasting.left(line))

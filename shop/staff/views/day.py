"""The Day sheet: what arrives, what goes out, what slips, what ends, what to order, and whether the book is in order."""

import datetime as dt

from django.http import HttpRequest, HttpResponse

from inventory.models import CutPlan, CutPlanBar
from inventory.queries import cut_question, shelf
from orders.models import Hold
from orders.queries import book, due
from orders.queries.book import Row
from orders.queries.due import Due
from shop.access.roles import DESK, reaches
from shop.flows import night
from shop.flows.night import count_lines, notice_lines
from shop.shared import clock, shop_row
from shop.shared.mail import outbox
from shop.shared.models import NightResult
from shop.staff import posting, wording
from shop.staff.views import day_days, day_floor, day_late, day_order, day_releases, day_week, presence_words
from shop.staff.views.day_lines import Line, Part

_FROM_THE_NIGHT = ("book", "order", "make", "one_off", "rejects", "not_done")


def day(request: HttpRequest) -> HttpResponse:
    """Print the Day sheet as the book stands."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    now = posting.doing(here).at
    today = clock.local_date(now, shop.zone)
    desk = reaches(here.acting_role, DESK)
    tonight = clock.at_local(today + dt.timedelta(days=1), 0, shop.zone)
    result = night.latest()
    planned = day_week.today(here.GET, at=now, day=today)
    parts = [
        Part("Temper", tuple(day_floor.untempered(now, shop_row.hours_of(shop, now)))),
        Part("Arrives", tuple(_arrives(today))),
        Part("Late to come", tuple(day_late.lines(today)) if desk else ()),
        Part("Goes out", tuple(_goes_out(today))),
        Part("Saw", tuple(_saw())),
        Part("Floor", tuple(day_floor.floor(now, shop.zone))),
        *planned.parts,
        Part("Slips", tuple(day_days.slips(today))),
        Part("Put by", (*_ends(now, today, shop.zone), *day_days.said_on_the_phone(now, today))),
        Part("Releases", tuple(day_releases.lines(now, tonight, shop.zone)) if desk else ()),
        *(_told(now, today, shop.zone) if desk else ()),
        Part("Inspection", tuple(_inspection())),
        Part("Count", tuple(_to_count(today))),
        *(day_order.parts(_night_parts(result)) if desk else []),
        Part("Mail", tuple(_mail()) if desk else ()),
    ]
    facts = {
        "parts": [part for part in parts if part.lines],
        "planned": planned,
        "absent": presence_words.on_the_day(today),
        "book_found": _book_found(result),
        "checked": result,
        "checked_today": result is not None and result.local_date == today,
    }
    return posting.sheet(here, "staff/day/day.html", "day", facts)


def _arrives(today: dt.date) -> list[Line]:
    lines = []
    for draft in shelf.drafts():
        who = f" by {draft.started_by.name}" if draft.started_by else ""
        address = wording.address("staff:delivery", draft.number) or wording.address("staff:door")
        words = f"begun{who}, not booked yet. Nothing of it counts before it is."
        bold = f"Delivery {draft.number} from {draft.supplier.name}"
        lines.append(Line(str(draft.number), "delivery", bold, words, address, "Go on with it"))
    for order in shelf.expected(until=today):
        expected = shelf.day_expected(order) or today
        late = (today - expected).days
        when = "Due today." if late == 0 else f"Was due {wording.on_day(expected)}."
        left = [line for line in order.lines.all() if line.received < line.qty]
        names = ", ".join(line.item.name for line in left[:3]) or "everything is in; close the order"
        address = wording.address("staff:delivery_new", order.number) or wording.address("staff:door")
        bold = f"from {order.supplier.name}, order {order.number}."
        unit = "line" if len(left) == 1 else "lines"
        lines.append(Line(str(len(left)), unit, bold, f"{when} {names}.", address, "Meet the lorry"))
    return lines


def _saw() -> list[Line]:
    """Return the cut plans that wait for the saw."""
    lines = []
    for plan in cut_question.plans([CutPlan.State.TAKEN]):
        pieces = [bar.pieces for bar in plan.bars.filter(state=CutPlanBar.State.TO_SAW)]
        bars = "1 bar" if len(pieces) == 1 else f"{len(pieces)} bars"
        bold = f"of {plan.item.name}, cut plan {plan.number}."
        address = wording.address("staff:cut_plan", plan.number)
        figure = wording.figures(sum(map(len, pieces)))
        lines.append(Line(figure, "blanks", bold, f"{bars} set aside for the saw.", address, "To the saw"))
    return lines


def _goes_out(today: dt.date) -> list[Line]:
    """Return what is whole and set aside: first what was given for today or before, then what has no day yet."""
    given = {row.order.pk: row for row in due.until(today)}
    lines = []
    later = 0
    for row in book.ready(today=today):
        if row.order.pk not in given and row.day is not None:
            later += 1
            continue
        lines.append(_out_line(row, given.get(row.order.pk), today))
    lines += [_early_line(row) for row in book.before_window(today=today)]
    if later:
        words = "given for a later day, all set aside: may go early."
        address = wording.address("staff:counter")
        unit = "more order" if later == 1 else "more orders"
        lines.append(Line(str(later), unit, "", words, address, "See the Counter"))
    return lines


def _early_line(row: Row) -> Line:
    """Say what is set aside and waits for the customer's window to begin."""
    order = row.order
    begins = f"not before {wording.on_day(order.not_before)}," if order.not_before else ""
    words = f"order {order.number}: {wording.what(row.lines, owed_only=True)}. All set aside; it waits for its day."
    unit, bold = "piece" if row.owed == 1 else "pieces", f"to {order.customer.name}, {begins}"
    return Line(
        wording.figures(row.owed), unit, bold, words, wording.address("staff:order", order.number), "See the order"
    )


def _out_line(row: Row, given: Due | None, today: dt.date) -> Line:
    order = row.order
    if given is None:
        when = "No day given."
    elif given.day == today:
        when = "Day given: today."
    else:
        when = f"Day given: {wording.on_day(given.day)}, which has passed."
    gift = " A gift: no prices on the slip." if order.gift else ""
    pay = " Goes only when paid, and money is still owed." if row.waits_for_money else ""
    words = f"order {order.number}: {wording.what(row.lines, owed_only=True)}. {when}{gift}{pay}"
    name, do = ("staff:order", "See the order") if row.waits_for_money else ("staff:order_send", f"Pack {order.number}")
    unit = "piece" if row.owed == 1 else "pieces"
    return Line(
        wording.figures(row.owed), unit, f"to {order.customer.name},", words, wording.address(name, order.number), do
    )


def _told(now: dt.datetime, today: dt.date, zone: str) -> list[Part]:
    """Return whom to tell that a day will not be kept, and whose answer or money is open, as the night says it."""
    return [
        Part(
            part.name,
            tuple(Line(one.figure, one.unit, one.bold, one.words, one.link.path, one.link.words) for one in part.lines),
        )
        for part in notice_lines.told(at=now, today=today, zone=zone)
    ]


def _ends(now: dt.datetime, today: dt.date, zone: str) -> list[Line]:
    ends = clock.at_local(today + dt.timedelta(days=2), 0, zone)
    return [_hold_line(hold, zone) for hold in due.lapsing_phone_holds(after=now, until=ends)]


def _hold_line(hold: Hold, zone: str) -> Line:
    until = wording.until(hold.until, zone)
    words = f"{hold.item.name}, until {until}; then free for anybody."
    unit = "piece" if hold.qty == 1 else "pieces"
    figure = wording.amount(hold.item, hold.qty)
    return Line(figure, unit, f"for {hold.name}:", words, wording.address("staff:hold", hold.pk), "Ask again")


def _to_count(today: dt.date) -> list[Line]:
    return [
        Line(line.figure, line.unit, line.bold, line.words, line.link.path, line.link.words)
        for part in count_lines.due(today=today)
        for line in part.lines
    ]


def _inspection() -> list[Line]:
    return [
        Line(
            wording.figures(one.qty - one.inspected),
            "came back",
            f"{wording.line_name(one.shipment_line.line)}:",
            one.why,
            wording.address("staff:return", one.number),
            "Inspect",
        )
        for one in book.waiting_inspection()[:10]
    ]


def _night_parts(result: NightResult | None) -> list[Part]:
    """Return what the last night's check found to order, to make and not done."""
    if result is None:
        return []
    parts = []
    for part in result.body.get("parts", []):
        if part["key"] not in _FROM_THE_NIGHT:
            continue
        found = part["lines"]
        if part["key"] == "order":
            found = day_order.still_proposed(found, result)
        lines = [
            Line(line["figure"], line["unit"], line["bold"], line["words"], line["link"]["path"], line["link"]["words"])
            for line in found
        ]
        note = f"as checked on {wording.on_day(result.local_date)}"
        parts.append(Part(part["name"], tuple(lines), note))
    return parts


def _mail() -> list[Line]:
    """Say how the mail stands where something waits to be sent."""
    said = outbox.sentence()
    return [Line("", "", "", said)] if said else []


def _book_found(result: NightResult | None) -> list[str]:
    found: list[str] = result.body.get("book", {}).get("found", []) if result else []
    return found

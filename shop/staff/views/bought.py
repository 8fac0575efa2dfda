"""One purchase order on its page, printed, sent to the supplier and asked after."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.models import PurchaseOrder
from inventory.queries import deliveries, order_sum
from inventory.services import purchase_changes, purchasing
from shop.flows import purchase_letters, purchase_paper, purchase_sending
from shop.shared import clock, shop_row, units
from shop.shared.mail import carrier
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views import bought_bars
from shop.staff.views.buying import ROOM, sent, to
from shop.staff.views.buying_forms import AskedForm, ConfirmForm, SendForm
from shop.staff.views.counter_history import link


def order(request: HttpRequest, number: int) -> HttpResponse:
    """Show a purchase order, and write down the day the supplier confirmed."""
    here, found, shop = posting.here_of(request), deliveries.order(number), shop_row.the_shop()
    if found is None:
        return posting.not_there(here)
    today = clock.local_date(posting.doing(here).at, shop.zone)
    form = ConfirmForm(sent(here), shop=shop, initial={"version": found.version, "day": found.confirmed_on})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchasing.confirm(found, typed["day"], version=typed["version"], at=who.at, by=who.by)
        return to(found), f"Order {found.number} is confirmed for {wording.on_day(typed['day'], seen=today)}."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act, names={"confirmed_on": "day"})
        if done:
            return done
    day = found.confirmed_on or found.wanted_on
    late = found.closed_at is None and day is not None and day < today
    facts = {
        "order": found,
        "table": _table(found, shop.currency),
        "money": _money(found, shop.currency),
        "cancelled": purchase_paper.cancelled(found),
        "bars": bought_bars.of_order(found),
        "promised": purchase_letters.promised(found),
        "sent": _sent(found, shop.zone),
        "may_change": purchase_changes.may_change(found),
        "letters": [_letter(one, shop.zone) for one in purchase_sending.carried(found)],
        "late": (today - day).days if late and day else 0,
        "asked": purchase_letters.asked(found, today),
        "came": found.deliveries.exclude(state="draft").order_by("number"),
    }
    return posting.sheet(here, "staff/door/order.html", ROOM, facts, form=form)


def _table(found: PurchaseOrder, currency: str) -> Ruled:
    columns = [Column("what"), Column("ordered"), Column("price", figures=True), Column("still to come")]
    left = {line.pk for line in deliveries.to_come(found)}
    lines = list(found.lines.all())
    cancels = found.closed_at is None and (len(lines) > 1 or any(line.received for line in lines))
    columns += [Column("no more")] if cancels else []
    rows = []
    for line in lines:
        price = units.money(line.price_minor, currency) if line.price_minor is not None else "not known"
        coming = purchase_letters.to_come(line) if line.pk in left else "all is in"
        row: list[object] = [line.item.name, purchase_paper.many(line), price, coming]
        if cancels:
            off = link("staff:door_order_line", f"Cancel line {line.number}", found.number, line.number)
            row.append(off if line.pk in left else "")
        rows.append(row)
    cost = order_sum.of(found)
    total = units.money(cost.goods, currency) if cost.unpriced < len(lines) else "not known"
    return Ruled("What is ordered", columns, rows, total=["together", "", total, *[""] * (len(columns) - 3)])


def _money(found: PurchaseOrder, currency: str) -> str:
    cost = order_sum.of(found)
    said = []
    if cost.unpriced:
        said.append(f"{'One line has' if cost.unpriced == 1 else f'{cost.unpriced} lines have'} no price.")
    if cost.freight is not None:
        freight = units.money(cost.freight, currency) if cost.freight else "free"
        said.append(f"Carriage {freight}, as this supplier's is noted.")
    else:
        said.append("What this supplier asks for carriage is not noted.")
    return " ".join(said)


def _sent(found: PurchaseOrder, zone: str) -> str:
    """Say how and when an order went to the supplier; nothing where it did not."""
    if found.sent_at is None:
        return ""
    how = {"printed": "on paper", "phone": "by phone", "e-mail": f"by e-mail to {found.sent_to}"}[found.sent_how]
    return f"Sent {how}, {wording.at_moment(found.sent_at, zone)}"


def _letter(one: purchase_sending.Carried, zone: str) -> str:
    what = "The question where it is" if one.asking else "The order"
    row = one.message
    if row.sent_at is not None:
        return f"{what} to {row.recipient}: taken by the mail server {wording.at_moment(row.sent_at, zone)}."
    if one.state == "given up":
        return f"{what} to {row.recipient}: given up. {one.said}"
    waits = one.said or ("" if carrier.configured() else "No mail server is set; BICKERN_SMTP_HOST names the server.")
    return f"{what} to {row.recipient}: waiting to be sent. {waits}".strip()


def paper(request: HttpRequest, number: int) -> HttpResponse:
    """Print a purchase order for the supplier."""
    here, found = posting.here_of(request), deliveries.order(number)
    if found is None:
        return posting.not_there(here)
    facts = {"order": found, "paper": purchase_paper.of(found)}
    return render(here, "staff/paper/purchase_order.html", facts)


def order_send(request: HttpRequest, number: int) -> HttpResponse:
    """Show the letter that would go, and send the order: by e-mail, on paper, or said on the phone."""
    here, found, shop = posting.here_of(request), deliveries.order(number), shop_row.the_shop()
    if found is None or (found.closed_at is not None and here.method != "POST"):
        return posting.not_there(here)
    first = {"version": found.version, "to": found.sent_to or found.supplier.email}
    form = SendForm(sent(here), shop=shop, initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchase_sending.send(found, typed["how"], version=typed["version"], at=who.at, by=who.by, to=typed["to"])
        if typed["how"] == PurchaseOrder.Sent.PRINTED:
            return reverse("staff:door_order_paper", args=[number]), ""
        said = {
            "e-mail": f"Order {number} goes to {typed['to']} by e-mail; this page says when the mail server has it.",
            "phone": f"Order {number} was said on the phone.",
        }
        return to(found), said[typed["how"]]

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act)
        if done:
            return done
    facts = {
        "order": found,
        "letter": purchase_sending.letter(found, zone=shop.zone),
        "sent": _sent(found, shop.zone),
        "configured": carrier.configured(),
    }
    return posting.sheet(here, "staff/door/order_send.html", ROOM, facts, form=form)


def order_asked(request: HttpRequest, number: int) -> HttpResponse:
    """Show what to ask the supplier of an order, and note that he was asked today."""
    here, found, shop = posting.here_of(request), deliveries.order(number), shop_row.the_shop()
    if found is None or (found.closed_at is not None and here.method != "POST"):
        return posting.not_there(here)
    form = AskedForm(sent(here), shop=shop, initial={"version": found.version, "to": found.supplier.email})
    mailed = here.POST.get("do") == "mail"

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        address = typed["to"] or " " if mailed else ""
        purchase_sending.ask_where(found, version=typed["version"], at=who.at, by=who.by, to=address)
        back = {"door": reverse("staff:door"), "day": reverse("staff:day")}.get(here.POST.get("back", ""), to(found))
        by_mail = f" by e-mail to {address}" if mailed else ""
        return back, f"{found.supplier.name} was asked today{by_mail} where order {number} is."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act)
        if done:
            return done
    today = clock.local_date(posting.doing(here).at, shop.zone)
    facts = {
        "order": found,
        "letter": purchase_letters.where_is_it(found),
        "asked": purchase_letters.asked(found, today),
        "promised": purchase_letters.promised(found),
    }
    return posting.sheet(here, "staff/door/order_asked.html", ROOM, facts, form=form)

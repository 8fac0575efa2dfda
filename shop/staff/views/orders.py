"""Changing an order: its terms, lines, money, the day given, cancelling."""

from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import Order, OrderLine, Promise
from orders.queries import availability, book
from orders.services import one_offs, ordering
from orders.services.ordering import Wanted
from shop.access.middleware import Here
from shop.flows.ship_days import giving, letting_go
from shop.shared import files, shop_row, units
from shop.staff import handing_out, posting, wording
from shop.staff.fields import SlipForm, typed_amount
from shop.staff.views import counter_forms as forms
from shop.staff.views.asking import Ask, ask

_LINE_NAMES = {"lines.0.qty": "qty", "lines.0.item": "item", "lines.0.price": "price", "lines.0.file": "file"}
_LINE_NAMES["lines.0.options"] = "options"


def order_change(request: HttpRequest, number: int) -> HttpResponse:
    """Change where it goes, the reference, the gift and the terms, until everything is sent."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    shop = shop_row.the_shop()
    form = forms.ChangeForm(_sent(here), shop=shop, initial=forms.ChangeForm.typed_already(order, shop.currency))

    def act(who: posting.Doing) -> tuple[str, str]:
        facts = {**form.facts(), "ship_to": form.cleaned_data["ship_to"]}
        ordering.change(order, version=form.cleaned_data["version"], at=who.at, by=who.by, **facts)
        return _to(order), f"Order {order.number} is changed."

    lead = f"{order.customer.name}. What was sent already keeps the address it went to."
    return ask(here, form, _ask(order, "Change order", lead, "Write it down"), act)


def order_add(request: HttpRequest, number: int) -> HttpResponse:
    """Add a line to an open order."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    form = forms.LineForm(*posting.sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        wanted = Wanted(
            typed["qty"], typed["item"], typed["words"], typed["options"], typed["file"], price_minor=typed["price"]
        )
        line = ordering.add_line(order, wanted, at=who.at, by=who.by)
        return _to(order), f"Line {line.number} is added: {_stands(line)}."

    asked = _ask(order, "One more line on order", f"{order.customer.name}.", "Add the line")
    promised = availability.of(None, at=posting.doing(here).at)
    facts = {"promised": [one for one in promised if one.item.kind != "bar"]}
    with files.only_if_booked(form.cleaned_data.get("file") if form.is_valid() else None, book.names_file):
        return ask(here, form, asked, act, names=_LINE_NAMES, facts=facts)


def order_money(request: HttpRequest, number: int) -> HttpResponse:
    """Write down money received or given back."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    shop = shop_row.the_shop()
    form = forms.MoneyForm(_sent(here), shop=shop)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        minor = typed["amount"] if typed["way"] == "in" else -typed["amount"]
        ordering.receive_money(order, minor, how=typed["how"], at=who.at, by=who.by)
        return _to(order), f"{units.money(typed['amount'], shop.currency)} is written down."

    total, got = ordering.total_minor(order), order.received_minor
    owed = f"{units.money(total - got, shop.currency)} still owed" if total > got else "nothing owed"
    lead = (
        f"The order comes to {units.money(total, shop.currency)}, {units.money(got, shop.currency)} received, {owed}."
    )
    return ask(here, form, _ask(order, "Money for order", lead, "Write it down"), act)


def order_day(request: HttpRequest, number: int) -> HttpResponse:
    """Give the customer a day; the one before stays in the history."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    form = forms.DayForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        source = Promise.Source.BY_HAND
        ordering.give_day(order, typed["day"], source=source, at=who.at, by=who.by, reason=typed["reason"])
        return _to(order), f"{wording.on_day(typed['day'])} is given for order {order.number}."

    day = book.rows([order])[0].day
    lead = f"Given so far: {wording.on_day(day)}." if day else "No day has been given yet."
    read = (reverse("staff:help_dates"), "How ship dates are worked out")
    return ask(here, form, replace(_ask(order, "Day given for order", lead, "Give the day"), read=read), act)


def order_confirm(request: HttpRequest, number: int) -> HttpResponse:
    """Make an order of what was only said on the phone."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    form = SlipForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        giving.confirm(order, at=who.at, by=who.by)
        return _to(order), f"Order {order.number} is an order now; its day and its place stay."

    until = f" Until {wording.on_day(order.said_until)} it was only said on the phone." if order.said_until else ""
    return ask(here, form, _ask(order, "They want order", f"{order.customer.name}.{until}", "Make it an order"), act)


def order_let_go(request: HttpRequest, number: int) -> HttpResponse:
    """Let go of what was only said on the phone."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    form = SlipForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        letting_go.let_go(order, at=who.at, by=who.by)
        return _to(order), f"Order {order.number} is let go; stock and place are free again."

    what = wording.what(book.rows([order])[0].lines, owed_only=True)
    return ask(here, form, _ask(order, "They do not want order", f"{order.customer.name}: {what}.", "Let it go"), act)


def order_cancel(request: HttpRequest, number: int) -> HttpResponse:
    """Cancel whatever of an order has not been sent."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    form = forms.ReasonForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        ordering.cancel_order(order, at=who.at, by=who.by, reason=form.cleaned_data["reason"])
        return _to(order), f"Order {order.number} is cancelled; what was set aside is free again."

    lead = f"{wording.what(book.rows([order])[0].lines, owed_only=True)} would be cancelled. What was sent stays sent."
    return ask(here, form, _ask(order, "Cancel order", lead, "Cancel what is not sent"), act)


def order_line(request: HttpRequest, number: int, line_number: int) -> HttpResponse:
    """Change one line: set aside, let go, how many, the price, cancel."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    line = order.lines.select_related("item", "order").filter(number=line_number).first()
    if line is None:
        return posting.not_there(here)
    acts = _acts(here, line)
    chosen = next((one for one in acts if one["key"] == here.POST.get("what")), None)
    if here.method == "POST" and chosen and chosen["form"].is_valid():
        done = posting.book(here, chosen["form"], lambda who: _act(line, chosen, who), names=_line_names(chosen))
        if done:
            return done
    facts = {
        "order": order,
        "line": line,
        "name": wording.line_name(line),
        "stands": _stands(line),
        "changes": acts,
        "promise": availability.one(line.item, at=posting.doing(here).at) if line.item else None,
    }
    return posting.sheet(here, "staff/counter/line.html", "counter", facts, form=chosen["form"] if chosen else None)


def order_file(request: HttpRequest, number: int, line_number: int) -> HttpResponse:
    """Hand out the file of a made-to-order line: to be saved, never to be shown as a page of ours."""
    here, order = posting.here_of(request), book.find_order(number)
    line = order.lines.filter(number=line_number).exclude(file="").first() if order else None
    if line is None:
        return posting.not_there(here)
    what = f"the file of order {number} line {line_number}"
    return handing_out.kept_file(here, line.file, line.file_name, what)


def _acts(here: Here, line: OrderLine) -> list[dict[str, Any]]:
    """Return what can be done to a line as it stands, each with its own form."""
    shop, owed = shop_row.the_shop(), line.waiting + line.reserved
    price = typed_amount(line.price_minor, shop.currency)
    wanted = [
        ("aside", "Set aside", forms.SomeForm, {}, "Set aside", bool(line.item and line.waiting)),
        ("go", "Let go", forms.QtyForm, {"qty": line.reserved}, "Let go", line.reserved > 0),
        ("qty", "Ordered", forms.QtyForm, {"qty": line.ordered}, "Order so many", True),
        ("price", "Price", forms.PriceForm, {"price": price}, "Agree this price", True),
        ("options", "With", forms.OptionsForm, {"options": line.options}, "Wanted so", bool(line.item)),
        (
            "again",
            "Again",
            forms.OneOffForm,
            {"one_off": "yes" if line.one_off else "no"},
            "Count it so",
            bool(line.item),
        ),
        ("cancel", "Cancel", forms.CancelForm, {"qty": owed}, "Cancel so many", owed > 0),
    ]
    acts = []
    for key, name, kind, initial, do, there in wanted:
        if there:
            sent = here.POST if here.method == "POST" and here.POST.get("what") == key else None
            form = kind(sent, shop=shop, initial=initial, auto_id=f"{key}_%s")
            acts.append({"key": key, "name": name, "form": form, "do": do})
    return acts


def _act(line: OrderLine, chosen: dict[str, Any], who: posting.Doing) -> tuple[str, str]:
    typed, key, told = chosen["form"].cleaned_data, chosen["key"], f"Line {line.number}"
    if key == "aside":
        line = ordering.reserve(line, typed["qty"], at=who.at, by=who.by)
    elif key == "go":
        line = ordering.release(line, typed["qty"], at=who.at, by=who.by)
    elif key == "qty":
        line = ordering.change_quantity(line, typed["qty"], at=who.at, by=who.by)
    elif key == "price":
        line = ordering.change_price(line, typed["price"], at=who.at, by=who.by)
    elif key == "options":
        line = ordering.change_options(line, typed["options"], at=who.at, by=who.by)
    elif key == "again":
        line = one_offs.set_one_off(line, typed["one_off"] == "yes", at=who.at, by=who.by)
    else:
        line = ordering.cancel(line, typed["qty"], at=who.at, by=who.by, reason=typed["reason"])
    return _to(line.order), f"{told}: {_stands(line)}."


def _line_names(chosen: dict[str, Any]) -> dict[str, str]:
    field = {"price": "price", "options": "options", "again": "one_off"}.get(chosen["key"], "qty")
    return {"ordered": field, "line": field, "price_minor": field}


def _stands(line: OrderLine) -> str:
    owed = line.ordered - line.cancelled - line.shipped
    return wording.stands(owed, line.reserved, 0 if line.item_id else line.waiting, line.shipped)


def _sent(here: Here) -> Any:
    return here.POST if here.method == "POST" else None


def _to(order: Order) -> str:
    return reverse("staff:order", args=[order.number])


def _ask(order: Order, title: str, lead: str, do: str) -> Ask:
    return Ask(f"{title} {order.number}", lead, do, _to(order), f"Back to order {order.number}")

"""Put by and said on the phone: what is kept without an order, letting it go, turning it into one."""

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.queries import shelf
from orders.models import Customer, Hold
from orders.queries import availability, book
from orders.services import holding
from shop.access.middleware import Here
from shop.access.roles import DESK, reaches
from shop.flows import ordering as at_the_counter
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views import counter_forms as forms
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link


def holds(request: HttpRequest) -> HttpResponse:
    """List what is put by, and put something by for a caller until the end of a day."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    now = posting.doing(here).at
    tomorrow = clock.local_date(now, shop.zone) + dt.timedelta(days=2)
    first = {"until": tomorrow, "item": _asked_for(here)}
    form = forms.HoldForm(here.POST if here.method == "POST" else None, shop=shop, initial=first)
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _put_by(form, who, shop.zone))
        if done:
            return done
    facts = {
        "table": _table(book.open_holds(at=now), shop.zone),
        "desk": reaches(here.acting_role, DESK),
        "promised": [one for one in availability.of(None, at=now) if one.item.kind != "bar"],
    }
    return posting.sheet(here, "staff/counter/holds.html", "counter", facts, form=form)


def _asked_for(here: Here) -> str:
    """Return the item that the page was opened for, where there is one of this code."""
    code = here.GET.get("item", "")
    return code if code.isascii() and len(code) < 31 and code.isprintable() and shelf.find_item(code) else ""


def _put_by(form: forms.HoldForm, who: posting.Doing, zone: str) -> tuple[str, str]:
    typed = form.cleaned_data
    until = clock.at_local(typed["until"] + dt.timedelta(days=1), 0, zone)
    holding.say_on_the_phone(
        typed["item"], typed["qty"], name=typed["name"], until=until, at=who.at, made_by=who.by.label
    )
    day = wording.on_day(typed["until"])
    said = f"{wording.counted(typed['item'], typed['qty'])} put by for {typed['name']} until the end of {day}."
    return reverse("staff:counter_holds"), said


def _table(found: list[Hold], zone: str) -> Ruled:
    columns = [Column("until"), Column("what"), Column("for whom"), Column("")]
    rows = []
    for hold in found:
        for_whom = hold.name or hold.made_by
        until = wording.until(hold.until, zone)
        what = wording.counted(hold.item, hold.qty)
        rows.append([until, what, for_whom, link("staff:hold", "Look", hold.pk)])
    return Ruled("What is put by", columns, rows)


def hold(request: HttpRequest, number: int) -> HttpResponse:
    """Show a hold; let it go, or turn it into an order."""
    here, found = posting.here_of(request), book.find_hold(number)
    if found is None:
        return posting.not_there(here)
    shop, now = shop_row.the_shop(), posting.doing(here).at
    form = forms.ReasonForm(here.POST if here.method == "POST" else None, shop=shop)
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _let_go(found, who))
        if done:
            return done
    facts = {
        "hold": found,
        "what": wording.counted(found.item, found.qty),
        "stands": found.ended_at is None and found.until > now,
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/counter/hold.html", "counter", facts, form=form)


def _let_go(found: Hold, who: posting.Doing) -> tuple[str, str]:
    holding.let_go(found, at=who.at, by=who.by)
    return reverse("staff:counter_holds"), f"{wording.counted(found.item, found.qty)} let go; free for anybody."


def hold_order(request: HttpRequest, number: int) -> HttpResponse:
    """Take an order whose line takes over what is put by."""
    here, found = posting.here_of(request), book.find_hold(number)
    if found is None:
        return posting.not_there(here)
    first = {"customer": found.name}
    form = forms.HeldSlip(here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        order = at_the_counter.order_from_hold(
            found, typed["buyer"], form.terms(), price_minor=typed["price"], at=who.at, by=who.by
        )
        return reverse("staff:order", args=[order.number]), f"Order {order.number} is taken: all set aside."

    lead = f"{wording.counted(found.item, found.qty)}, put by for {found.name or found.made_by}."
    back = reverse("staff:hold", args=[found.pk])
    asked = Ask("An order out of the hold", lead, "Take the order", back, "Back to the hold", part="Who")
    customers = Customer.objects.filter(active=True).order_by("name", "id")[:500]
    return ask(here, form, asked, act, facts={"customers": customers})

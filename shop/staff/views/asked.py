"""The three questions at the Counter: asked on one line, answered on one sheet, and the day given from it."""

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from orders.models import Customer, Order, Question
from orders.queries import book
from orders.services.promising import StaleAnswer
from shop.access.middleware import Here
from shop.flows.ship_days import asking, giving
from shop.flows.ship_days.asking import Asked
from shop.shared import clock, shop_row
from shop.shared.errors import NotFound, Refusal
from shop.staff import posting, wording
from shop.staff.forms import refuse
from shop.staff.views import asked_drawn, asked_words
from shop.staff.views.asked_forms import MORE, AskForm, GiveAgainForm, GiveForm

ROOM = "counter"
ON_THE_PHONE_DAYS = 3  # open days that something is kept for a caller. No source
LOOKS_AGAIN = 4  # seconds


def ask(request: HttpRequest) -> HttpResponse:
    """Ask: when for so many, how sure by a day, how many by a day."""
    here = posting.here_of(request)
    form = AskForm(*posting.sent(here)[:1], shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        typed, who = form.cleaned_data, posting.doing(here)
        asked = Asked(typed["wanted"], typed["kind"], typed["by_day"], typed["sure"])
        try:  # outside any transaction: the reckoning locks nothing; asked twice, it is answered twice and books nothing
            question = asking.ask(asked, at=who.at, by=who.by)
        except Refusal as refusal:
            refusal.fields = {form.names().get(name, name): said for name, said in refusal.fields.items()}
            refuse(form, refusal)
        else:
            return HttpResponseRedirect(reverse("staff:counter_asked", args=[question.pk]))
    return posting.sheet(here, "staff/counter/ask_day.html", ROOM, {"more": _more(form)}, form=form)


def _more(form: AskForm) -> list[tuple[Any, Any]]:
    return [(form[f"qty_{number}"], form[f"item_{number}"]) for number in range(1, MORE)]


def ask_order(request: HttpRequest, number: int) -> HttpResponse:
    """Ask when an order that is in the queue goes, at its place."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    who, back = posting.doing(here), HttpResponseRedirect(reverse("staff:order", args=[number]))
    if here.method != "POST":
        return back
    try:
        question = asking.ask_for(order, at=who.at, by=who.by)
    except Refusal as refusal:
        posting.say(here, refusal.sentence)
        return back
    return HttpResponseRedirect(reverse("staff:counter_asked", args=[question.pk]))


def asked(request: HttpRequest, number: int) -> HttpResponse:
    """Show an answer; sent, give the day that stands on it."""
    here = posting.here_of(request)
    try:
        question = asking.find(number)
    except NotFound:
        return posting.not_there(here)
    form = _form(here, question)
    if here.method == "POST" and form.is_valid():
        done, stale = _give(here, question, form)
        if done:
            return done
        if stale:
            who = posting.doing(here)
            question = asking.ask_again(question, at=who.at, by=who.by)
    answer = posting.sheet(here, "staff/counter/asked.html", ROOM, _facts(question), form=form)
    if question.state == Question.State.WAITING:
        answer["Refresh"] = str(LOOKS_AGAIN)
    return answer


def ideas(request: HttpRequest, number: int) -> HttpResponse:
    """Say what would bring it forward: a part of the answer that follows."""
    here = posting.here_of(request)
    try:
        question = asking.find(number)
    except NotFound:
        return posting.not_there(here)
    found = asking.bring_forward(question, at=posting.doing(here).at)
    facts = {"question": question, "title": asked_words.title(question), "ideas": asked_words.ideas(found)}
    return posting.sheet(here, "staff/counter/asked_ideas.html", ROOM, facts)


def _form(here: Here, question: Question) -> GiveForm | GiveAgainForm:
    sent, shop = posting.sent(here)[0], shop_row.the_shop()
    if question.order_id is not None:
        return GiveAgainForm(sent, shop=shop)
    kind = {"kind": question.customer_kind, "said_until": _in_open_days(ON_THE_PHONE_DAYS)}
    return GiveForm(sent, shop=shop, initial=kind)


def _give(here: Here, question: Question, form: GiveForm | GiveAgainForm) -> tuple[HttpResponseRedirect | None, bool]:
    """Give the day, once; say too whether it was refused because the shop has changed."""
    stale: list[bool] = []

    def act(who: posting.Doing) -> tuple[str, str]:
        try:
            order = _given(question, form, who)
        except StaleAnswer:
            stale.append(True)
            raise
        row = book.rows([order])[0]
        days = wording.on_day(row.day) if row.day else "a day for each line"
        return reverse("staff:order", args=[order.number]), f"Order {order.number} has its day: {days}."

    names = {"lines": "customer", "split": "day", "lines.0.options": "options"}
    return posting.book(here, form, act, names=names), bool(stale)


def _given(question: Question, form: GiveForm | GiveAgainForm, who: posting.Doing) -> Order:
    if isinstance(form, GiveAgainForm):
        return giving.give_for(question, form.given(), at=who.at, by=who.by)
    buyer, wanted = form.cleaned_data["buyer"], form.wanted(question)
    return giving.give(question, buyer, wanted, form.terms(), form.given(), at=who.at, by=who.by)


def _facts(question: Question) -> dict[str, object]:
    facts: dict[str, object] = {
        "question": question,
        "title": asked_words.title(question),
        "again": AskForm(shop=shop_row.the_shop(), initial=asked_words.typed(question), auto_id="again_%s"),
        "customers": Customer.objects.filter(active=True).order_by("name", "id")[:500],
        "looks_again": LOOKS_AGAIN,
    }
    if question.state != Question.State.ANSWERED:
        return facts
    answer, hours = question.answer, shop_row.hours()
    return {
        **facts,
        "said": asked_words.said(question),
        "curve": asked_drawn.drawn(answer, hours),
        "holds": asked_words.holds(answer),
        "stuck": [asked_words.stuck(one) for one in answer["stuck"]],
        "losers": asked_words.others(answer["losers"], "Orders that lose by it"),
        "others": asked_words.others(
            [one for one in answer["promises"] if one not in answer["losers"]], "The other orders with a day"
        ),
        "can_split": len((answer["by"] or {}).get("split") or []) == 2
        and all(part["day"] for part in answer["by"]["split"]),
    }


def _in_open_days(count: int) -> dt.date:
    hours, day = shop_row.hours(), clock.local_date(clock.now(), shop_row.the_shop().zone)
    left = count
    for _ in range(60):
        if not left:
            break
        day += dt.timedelta(days=1)
        left -= hours.is_open_on(day)
    return day

"""The three questions at the Counter: asked on one line, answered on one sheet, and the day given from it."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import resolve, reverse

from orders.models import Customer, Order, Question
from orders.queries import availability, book
from orders.services import not_taken as lost
from orders.services.promising import StaleAnswer
from shop.access.middleware import Here
from shop.flows.ship_days import asking, giving
from shop.shared import clock, shop_row
from shop.shared.errors import NotFound, Refusal
from shop.staff import posting, wording
from shop.staff.fields import SlipForm
from shop.staff.forms import refuse
from shop.staff.views import asked_drawn, asked_words
from shop.staff.views.asked_forms import LOOK, PHONE, AskForm, GiveAgainForm, GiveForm, SureForm

ROOM = "counter"
ON_THE_PHONE_DAYS = 3  # open days that something is kept for a caller. No source
LOOKS_AGAIN = 4  # seconds
STRIKE = "strike"
TYPED = "typed at an answer"


def ask(request: HttpRequest) -> HttpResponse:
    """Ask: when for so many, how sure by a day, how many by a day. The same form sent twice asks one question."""
    here = posting.here_of(request)
    form = AskForm(*posting.sent(here)[:1], shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = posting.book(
            here, form, lambda who: _at(asking.note(form.asked(), at=who.at, by=who.by)), names=form.names()
        )
        if done:
            return _reckoned(here, done)
    return posting.sheet(here, "staff/counter/ask_day.html", ROOM, {"ask": form, **promised(here)}, form=form)


def promised(here: Here) -> dict[str, object]:
    """Return the tools with what can be promised of them, for the field that names one."""
    return {"promised": [one for one in availability.listed(at=posting.doing(here).at) if one.item.kind == "tool"]}


def _at(question: Question) -> tuple[str, str]:
    return reverse("staff:counter_asked", args=[question.pk]), ""


def _reckoned(here: Here, done: HttpResponseRedirect) -> HttpResponseRedirect:
    """Answer the question that a form has led to, now that it is written down; one that is answered stays as it is."""
    question = asking.find(resolve(done.url).kwargs["number"])
    asking.reckon(question, at=posting.doing(here).at)
    return done


def ask_order(request: HttpRequest, number: int) -> HttpResponse:
    """Ask when an order that is in the queue goes, at its place."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    form = SureForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    if form.is_valid():
        sure = form.cleaned_data["sure"]
        done = posting.book(
            here, form, lambda who: _at(asking.note_for(order, sure_percent=sure, at=who.at, by=who.by))
        )
        if done:
            return _reckoned(here, done)
    if form.errors:
        posting.say(here, " ".join(sentence for said in form.errors.values() for sentence in map(str, said)))
    return HttpResponseRedirect(reverse("staff:order", args=[number]))


def asked(request: HttpRequest, number: int) -> HttpResponse:
    """Show an answer; sent, give the day that stands on it."""
    here = posting.here_of(request)
    try:
        question = asking.find(number)
    except NotFound:
        return posting.not_there(here)
    form = _form(here, question)
    if here.method == "POST" and form.is_valid() and form.how != LOOK:
        done = _give(here, question, form)
        if done:
            return done
    answer = posting.sheet(here, "staff/counter/asked.html", ROOM, _facts(here, question, form), form=form)
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


def not_taken(request: HttpRequest, number: int) -> HttpResponse:
    """Note that they did not take it, or that this was said by mistake."""
    here = posting.here_of(request)
    try:
        question = asking.find(number)
    except NotFound:
        return posting.not_there(here)
    form, strike = SlipForm(here.POST, shop=shop_row.the_shop()), here.POST.get("how") == STRIKE

    def act(who: posting.Doing) -> tuple[str, str]:
        if strike:
            lost.strike_out(question, at=who.at, by=who.by)
            return reverse("staff:counter_asked", args=[number]), "Struck out; it does not count as asked for any more."
        lost.note(question, at=who.at, by=who.by)
        return reverse("staff:counter"), f"{asked_words.title(question)}: not taken. Reorders count it as asked for."

    done = posting.book(here, form, act) if form.is_valid() else None
    if done is None:
        posting.say(here, " ".join(str(one) for said in form.errors.values() for one in said))
    return done or HttpResponseRedirect(reverse("staff:counter_asked", args=[number]))


def _form(here: Here, question: Question) -> GiveForm | GiveAgainForm:
    """Return the form, with what was typed at an answer that this one follows."""
    sent, shop, kept = posting.sent(here)[0], shop_row.the_shop(), _kept(here, question).get("fields", {})
    if question.order_id is not None:
        return GiveAgainForm(sent, shop=shop, initial=kept)
    kind = {"kind": question.customer_kind, "said_until": _in_open_days(ON_THE_PHONE_DAYS)}
    return GiveForm(sent, shop=shop, question=question, initial={**kind, **kept})


def _kept(here: Here, question: Question) -> Mapping[str, Any]:
    kept: Mapping[str, Any] = here.session.get(TYPED) or {}
    return kept if kept.get("question") == question.pk else {}


def _give(here: Here, question: Question, form: GiveForm | GiveAgainForm) -> HttpResponseRedirect | None:
    """Give the day, once. Where the shop has changed since, ask again and take what was typed along to the new answer."""
    stale: list[StaleAnswer] = []

    def act(who: posting.Doing) -> tuple[str, str]:
        try:
            order = _given(question, form, who)
        except StaleAnswer as why:
            stale.append(why)
            raise
        return reverse("staff:order", args=[order.number]), asked_words.given(order)

    done = posting.book(here, form, act, names=form.names())
    if done or not stale:
        return done
    who = posting.doing(here)
    try:
        anew = asking.ask_again(question, at=who.at, by=who.by)
    except Refusal as refusal:
        refuse(form, refusal)
        return None
    was = question.answer.get("day")
    before = f" Before, it was {wording.on_day(dt.date.fromisoformat(was))}." if was else ""
    fields = {name: here.POST[name] for name in (*form.fields, "how") if name in here.POST}
    here.session[TYPED] = {"question": anew.pk, "fields": fields, "said": f"{stale[0].sentence}{before}"}
    return HttpResponseRedirect(reverse("staff:counter_asked", args=[anew.pk]))


def _given(question: Question, form: GiveForm | GiveAgainForm, who: posting.Doing) -> Order:
    if isinstance(form, GiveAgainForm):
        return giving.give_for(question, form.given(), at=who.at, by=who.by)
    buyer = form.cleaned_data["buyer"]
    return giving.give(question, buyer, form.wanted(), form.terms(), form.given(), at=who.at, by=who.by)


def _facts(here: Here, question: Question, form: GiveForm | GiveAgainForm) -> dict[str, object]:
    facts: dict[str, object] = {
        "question": question,
        "title": asked_words.title(question),
        "again": AskForm(shop=shop_row.the_shop(), initial=asked_words.typed(question), auto_id="again_%s"),
        "customers": Customer.objects.filter(active=True).order_by("name", "id")[:500],
        "looks_again": LOOKS_AGAIN,
        "phone_open": PHONE in (form.how, _kept(here, question).get("fields", {}).get("how")),
    }
    if question.order is not None:
        row = book.rows([question.order])[0]
        sure = {"sure": round(question.wanted_ppm / 10_000)}
        facts |= {
            "what": wording.what(row.lines, owed_only=True),
            "given": row.day,
            "sure_form": SureForm(shop=form.shop, initial=sure),
        }
    if _kept(here, question) and here.method == "GET":
        facts["told"] = _kept(here, question)["said"]
    if question.state != Question.State.ANSWERED:
        return facts
    answer, hours = question.answer, shop_row.hours()
    today, all_of_it = clock.local_date(clock.now(), hours.zone), asked_words.all_of_it(question)
    return {
        **facts,
        "said": asked_words.said(question),
        "curve": asked_drawn.drawn(
            answer, what=all_of_it, wanted=asked_words.wanted_for(question), hours=hours, today=today
        ),
        "all_of_it": all_of_it,
        "one": len(question.lines) == 1,
        "wanted": asked_words.wanted(question),
        "thumb": asked_words.thumb(answer),
        "holds": asked_words.holds(answer),
        "stuck": [asked_words.stuck(one) for one in answer["stuck"]],
        "losers": asked_words.others(answer["losers"], "Orders that lose by it"),
        "others": asked_words.others(
            [one for one in answer["promises"] if one not in answer["losers"]], "The other orders with a day"
        ),
        "terms_open": isinstance(form, GiveForm) and form.terms_open,
        "looked": asked_words.looked(answer, getattr(form, "cleaned_data", {}).get("day")),
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

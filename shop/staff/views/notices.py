"""Telling a customer that a day will not be kept: text to copy, the notice, the answer, the refund. Nothing is sent here."""

import datetime as dt
from dataclasses import dataclass
from urllib.parse import quote

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import Notice, Order
from orders.queries import book
from orders.queries import notices as asked
from orders.services import notices
from orders.services.notices import Told
from shop.flows import notice_text
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.fields import Day, Moment, SlipForm, Words
from shop.staff.views.asking import Ask, ask

ROOM = "counter"
LAW = (
    "Who sells by mail, internet or telephone may owe a buyer notice of a day that cannot be kept, his consent to a later one, or"
    " the money back; in the United States 16 CFR 435 says how and by when. The law of the place you sell to goes before this"
    " page. This is no legal advice. Nothing is sent from here, and no silence is taken for consent."
)
HOW = [(how, how) for how in ("by e-mail", "by telephone", "by letter", "in person")]
ANSWERS = [("agreed", "they agreed"), ("cancelled", "they cancelled")]


class TextForm(SlipForm):
    """For which day the text is to be written."""

    day = Day(label="A new day", required=False)


class NoticeForm(SlipForm):
    """How a customer was told, in which words."""

    how = forms.ChoiceField(label="How", choices=HOW)
    new_day = Day(label="New day named in it", required=False, help_text="Empty: it says that none is known.")
    told_at = Moment(label="Told at", help_text="Empty: now.")
    text = Words(
        longest=notices.LONGEST_TEXT, rows=18, label="Text", help_text="As they were told, to copy or to read out."
    )


class AnswerForm(SlipForm):
    """What they said."""

    answer = forms.ChoiceField(label="Answer", choices=ANSWERS, widget=forms.RadioSelect)
    answered_at = Moment(label="Answered at", help_text="Empty: now.")


class RefundForm(SlipForm):
    """When the money went back."""

    refunded_at = Moment(label="Went back at", help_text="Empty: now.")
    not_cancelled = forms.BooleanField(label="They have not cancelled; it goes back all the same", required=False)


@dataclass(frozen=True, slots=True)
class Shown:
    """A notice as the order's page prints it: what is so, and what is to be done about it."""

    notice: Notice
    said: str
    address: str = ""
    do: str = ""
    money: str = ""


def told_of(order: Order, *, at: dt.datetime) -> dict[str, object]:
    """Return what the order's page says in its part "Told"."""
    zone = shop_row.the_shop().zone
    today = clock.local_date(at, zone)
    late = asked.late(order, today=today) if order.closed_at is None else None
    untold = late is not None and any(row.order.pk == order.pk for row in asked.to_tell(today=today))
    return {"notices": [_shown(one, order, zone) for one in asked.of_order(order)], "late": late, "untold": untold}


def _shown(one: Notice, order: Order, zone: str) -> Shown:
    said = {"agreed": "They agreed", "cancelled": "They cancelled", "": "No answer yet"}[one.answer]
    said += f" {wording.on_day(clock.local_date(one.answered_at, zone))}." if one.answered_at else "."
    back = reverse("staff:order_notice_refund", args=[order.number, one.pk])
    if one.refunded_at:
        return Shown(one, f"{said} The money went back {wording.on_day(clock.local_date(one.refunded_at, zone))}.")
    if one.answer == Notice.Answer.CANCELLED:
        owed = " Money received is to go back." if order.received_minor else " No money had come."
        return Shown(one, said + owed, back, "Note the refund") if order.received_minor else Shown(one, said + owed)
    if one.answer:
        return Shown(one, said, money=back)
    return Shown(
        one, said, reverse("staff:order_notice_answer", args=[order.number, one.pk]), "Note the answer", money=back
    )


def tell(request: HttpRequest, number: int) -> HttpResponse:
    """Write the text for a new day, or for one not known; note that the customer was told."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    shop, at = shop_row.the_shop(), posting.doing(here).at
    today = clock.local_date(at, shop.zone)
    late = asked.late(order, today=today)
    chosen = TextForm(here.GET if "day" in here.GET else None, shop=shop)
    new_day = _new_day(chosen, late, today)
    chosen.initial = {"day": new_day}
    lines = [line for line in book.rows([order])[0].lines if line.ordered > line.shipped + line.cancelled]
    text = notice_text.text(order, late, lines, shop_name=shop.name, new_day=new_day)
    first = {"how": HOW[0][0], "new_day": new_day, "text": text}
    form = NoticeForm(here.POST if here.method == "POST" else None, shop=shop, initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        told = Told(typed["how"], typed["text"], typed["new_day"], typed["told_at"])
        promise = late.promise if late else None
        notices.write(order, told, promise=promise, today=today, at=who.at, by=who.by)
        return _to(order), f"It is written down that {order.customer.name} was told {typed['how']}."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act)
        if done:
            return done
    subject = notice_text.subject(order, new_day)
    email = order.customer.email
    facts = {
        "order": order,
        "late": late,
        "chosen": chosen,
        "new_day": new_day,
        "law": LAW,
        "mail": f"mailto:{quote(email, safe='@')}?subject={quote(subject)}&body={quote(text.replace(chr(10), chr(13) + chr(10)))}"
        if email
        else "",
    }
    return posting.sheet(here, "staff/counter/notice.html", ROOM, facts, form=form)


def _new_day(chosen: TextForm, late: asked.ToTell | None, today: dt.date) -> dt.date | None:
    """Return the day the text is for: the one chosen, else the one that is sure enough, where it is still to come."""
    if chosen.is_bound:
        day: dt.date | None = chosen.cleaned_data["day"] if chosen.is_valid() else None
        return day
    sure = late.sure_day if late else None
    return sure if sure is not None and sure > today else None


def answer(request: HttpRequest, number: int, notice: int) -> HttpResponse:
    """Note what the customer answered."""
    here, found = posting.here_of(request), asked.find(number, notice)
    if found is None:
        return posting.not_there(here)
    form = AnswerForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        notices.answer(found, typed["answer"], at=who.at, by=who.by, answered_at=typed["answered_at"])
        if typed["answer"] == Notice.Answer.CANCELLED:
            said = "It is noted that they cancelled. Cancel what is not sent, and give the money back."
        else:
            day = f" Give {wording.on_day(found.new_day)} as the day." if found.new_day else ""
            said = f"It is noted that they agreed.{day}"
        return _to(found.order), said

    lead = f"{_lead(found)} Only what they said is noted; silence is no answer."
    return ask(here, form, _ask(found, "Answer about", lead, "Note the answer", "Answer"), act)


def refund(request: HttpRequest, number: int, notice: int) -> HttpResponse:
    """Note that the money went back."""
    here, found = posting.here_of(request), asked.find(number, notice)
    if found is None:
        return posting.not_there(here)
    form = RefundForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    if found.answer == Notice.Answer.CANCELLED:
        del form.fields["not_cancelled"]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        notices.refund(
            found,
            at=who.at,
            by=who.by,
            refunded_at=typed["refunded_at"],
            not_cancelled=typed.get("not_cancelled", False),
        )
        return _to(
            found.order
        ), "It is noted that the money went back. Write the amount under Money, if it is not there."

    cancelled = "They cancelled." if found.answer == Notice.Answer.CANCELLED else "They have not cancelled."
    lead = f"{_lead(found)} {cancelled}"
    return ask(here, form, _ask(found, "Money back on", lead, "Note the refund", "Refund"), act)


def _lead(found: Notice) -> str:
    zone = shop_row.the_shop().zone
    day = f"of a new day, {wording.on_day(found.new_day)}" if found.new_day else "that no day is known"
    return f"{found.order.customer.name} was told {found.how} {wording.on_day(clock.local_date(found.told_at, zone))} {day}."


def _ask(found: Notice, title: str, lead: str, do: str, part: str) -> Ask:
    return Ask(f"{title} order {found.order.number}", lead, do, _to(found.order), "Back to the order", part=part)


def _to(order: Order) -> str:
    return reverse("staff:order", args=[order.number])

"""The queue at the Counter: open orders in their order, and an order moved in it once its owner has seen who loses."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import Order
from orders.queries import book, in_queue
from orders.queries.in_queue import Standing
from orders.services.promising import StaleAnswer
from shop.access.middleware import Here
from shop.access.roles import OWNER, reaches
from shop.flows.ship_days import moving
from shop.flows.ship_days.moving import Effect
from shop.shared import shop_row
from shop.shared.errors import Refusal
from shop.staff import posting, wording
from shop.staff.fields import SlipForm, Words
from shop.staff.forms import refuse
from shop.staff.ruled import Column, Ruled
from shop.staff.templatetags.shop_tags import fractions
from shop.staff.views import asked_words
from shop.staff.views.counter_history import link

ROOM = "counter"
BEHIND_ALL = "all"


class PlaceForm(SlipForm):
    """Where an order goes: before another, or behind all."""

    before = forms.ChoiceField(label="Move it")

    def __init__(self, *args: Any, order: Order, standing: list[Standing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.others = {str(one.order.number): one.order for one in standing if one.first and one.order != order}
        said = {str(one.order.number): _owed(one) for one in standing if one.first}
        self.fields["before"].choices = [  # type: ignore[attr-defined]
            *((number, f"before order {number}, {one.customer.name}: {said[number]}") for number, one in self.others.items()),
            (BEHIND_ALL, "behind all"),
        ]  # fmt: skip

    @property
    def chosen(self) -> Order | None:
        """The order it goes before; nothing where it goes behind all."""
        return self.others.get(self.cleaned_data["before"])


class MoveForm(PlaceForm):
    """The move as it was looked at, and why."""

    reason = Words(longest=300, label="Why", help_text="It stands in the order's history.")
    seen = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)


def queue(request: HttpRequest) -> HttpResponse:
    """List the open orders as they stand in the queue, with their days and how sure these are."""
    here = posting.here_of(request)
    standing = in_queue.standing()
    facts = {"table": _table(here, standing), "orders": sum(one.first for one in standing)}
    return posting.sheet(here, "staff/counter/queue.html", ROOM, facts)


def move(request: HttpRequest, number: int) -> HttpResponse:
    """Ask where an order goes, show who loses by it, and move it."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    standing = in_queue.standing()
    told: dict[str, Any] = {"order": order, "standing": standing, "shop": shop_row.the_shop()}
    form = _sent(here, told)
    if form.is_valid() and isinstance(form, MoveForm):
        done = _move(here, order, form)
        if done:
            return done
    # A refused place is taken out of what was typed; any other fault leaves a move that can be looked at.
    found = _effect(here, order, form) if form.is_bound and "before" in form.cleaned_data else None
    facts = {
        "order": order,
        "place": next((one for one in standing if one.order == order), None),
        "others": len(form.others),
        "may_move": reaches(here.acting_role, OWNER),
        **_said(told, form, found),
    }
    return posting.sheet(here, "staff/counter/queue_move.html", ROOM, facts, form=form)


def _sent(here: Here, told: dict[str, Any]) -> PlaceForm:
    """Return the form that was sent, or asked for with an address, or a new one."""
    if here.method == "POST":
        return MoveForm(here.POST, **told)
    if "before" in here.GET:
        return PlaceForm(here.GET, **told)
    form = PlaceForm(**told)
    form.initial["before"] = next(iter(form.others), BEHIND_ALL)
    return form


def _effect(here: Here, order: Order, form: PlaceForm) -> Effect | None:
    """Work out what the move does, outside any transaction; a refusal becomes the form's."""
    try:
        return moving.effect(order, form.chosen, at=posting.doing(here).at)
    except Refusal as refusal:
        if not form.errors:
            refuse(form, refusal)
        return None


def _move(here: Here, order: Order, form: MoveForm) -> HttpResponse | None:
    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        if not typed["seen"]:
            raise StaleAnswer("Nothing was moved, for nobody has looked at who loses by it; look, then move it.")
        moving.move(order, form.chosen, seen=typed["seen"], at=who.at, by=who.by, reason=typed["reason"])
        where = f"before order {form.chosen.number}" if form.chosen else "behind all"
        return reverse("staff:counter_queue"), f"Order {order.number} stands {where} now. Dates follow it."

    return posting.book(here, form, act)


def _said(told: dict[str, Any], form: PlaceForm, found: Effect | None) -> dict[str, object]:
    """Return the effect in words, and the form that books it, filled in as it was typed."""
    if found is None:
        return {"effect": None}
    before = form.cleaned_data["before"]
    booking = form if isinstance(form, MoveForm) else MoveForm(initial={"before": before}, **told)
    return {
        "effect": found,
        "where": dict(form.fields["before"].choices)[before],  # type: ignore[attr-defined]
        "before": before,
        "booking": booking,
        "own": asked_words.others(found.own, f"Order {found.order} itself", after="if moved"),
        "losers": asked_words.others(found.losers, "Orders that lose by it", after="if moved"),
        "keep": asked_words.others(found.others, "The other orders with a day", after="if moved"),
        "kept": len(found.others),
    }


def _table(here: Here, standing: list[Standing]) -> Ruled:
    figures = ("day given", "chance now", "wanted")
    columns = [Column("order"), Column("place", figures=True), Column("customer"), Column("still owed")]
    columns += [*(Column(head, figures=True) for head in figures), Column("move")]
    word = "Move" if reaches(here.acting_role, OWNER) else "If it moved"
    rows = [
        [
            link("staff:order", str(one.order.number) if one.alone else _parts(one), one.order.number),
            one.place,
            one.order.customer.name,
            fractions(_owed(one)),
            wording.on_day(one.promise.day) if one.promise else "none",
            _chance(one),
            round(100 * one.wanted) if one.promise else "",
            link("staff:order_queue", word, one.order.number) if one.first else "",
        ]
        for one in standing
    ]
    return Ruled("The queue, the first to be served first", columns, rows)


def _parts(one: Standing) -> str:
    lines = " and ".join(str(line.number) for line in one.lines)
    return f"{one.order.number}, {'line' if len(one.lines) == 1 else 'lines'} {lines}"


def _owed(one: Standing) -> str:
    return wording.what(one.lines, owed_only=True)


def _chance(one: Standing) -> str:
    if one.promise is None:
        return ""
    return "not rated yet" if one.chance is None else f"{wording.in_hundred(one.chance, wanted=one.wanted)} in 100"

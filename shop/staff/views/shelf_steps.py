"""Heads that stand on the floor: moved one step on along their route, and after the last step onto the shelf."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Holding, Item, Place
from inventory.queries import shelf
from inventory.services import stepping
from orders.services.ordering import MOST_PIECES
from shop.flows import stepping as flow
from shop.shared import shop_row
from shop.staff import posting, wording
from shop.staff.fields import Moment, SlipForm, Whole
from shop.staff.views.asking import Ask, ask


class StepForm(SlipForm):
    """So many heads of one lot, done with their next step."""

    holding = forms.ChoiceField(label="Which heads")
    qty = Whole(label="How many", most=MOST_PIECES)
    happened_at = Moment(label="Done at", help_text="Empty: now.")


def step_on(request: HttpRequest, code: str) -> HttpResponse:
    """Book heads as done with their next step."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None or item.kind != Item.Kind.HEAD:
        return posting.not_there(here)
    form = StepForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    on_floor = Holding.objects.filter(item=item, place__kind=Place.Kind.FLOOR, on_hand__gt=0).select_related("lot")
    holdings = {str(one.pk): one for one in on_floor.order_by("-step", "lot_id")[:200]}
    form.fields["holding"].choices = [(key, _said(item, one)) for key, one in holdings.items()]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        one = holdings[typed["holding"]]
        entry = flow.move_on(one, typed["qty"], stamp=who.stamp(happened_at=typed["happened_at"]))
        to = _next(item, one)
        said = f"{wording.counted(item, typed['qty'])} of lot {one.lot.code}: {to}, line {wording.figures(entry.pk)} of the book."
        return reverse("staff:item", args=[item.code]), said

    lead = f"{item.name}. One step at a time; what is tempered and checked goes to the shelf."
    asked = Ask(
        "One step on",
        lead,
        "Book the step",
        reverse("staff:item", args=[item.code]),
        f"Back to {item.name}",
        room="shelf",
    )
    return ask(here, form, asked, act)


def _next(item: Item, one: Holding) -> str:
    following = stepping.next_after(item, one.step)
    return following.name if following else "to the shelf"


def _said(item: Item, one: Holding) -> str:
    return f"{one.on_hand} of lot {one.lot.code}, next: {_next(item, one)}"

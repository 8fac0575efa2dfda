"""The last day to order: of an item, for up to three days by which it is to be sent."""

import datetime as dt
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse

from orders.queries import availability
from shop.flows.ship_days import last_days
from shop.flows.ship_days.asking import MOST_PIECES
from shop.flows.ship_days.last_days import Last
from shop.shared import clock, shop_row
from shop.shared.errors import Refusal
from shop.staff import posting, wording
from shop.staff.fields import Day, SlipForm, Whole
from shop.staff.forms import refuse
from shop.staff.item_field import ItemField
from shop.staff.ruled import Column, Ruled

ROOM = "counter"
BEFORE_THE_FEAST = (12, 18)  # month and day that stand in the form. No source: shop practice


class LastDayForm(SlipForm):
    """Of what, how many, for whom, by when."""

    item = ItemField(label="Of what", required=True)
    qty = Whole(label="How many", most=MOST_PIECES, initial=1)
    kind = forms.ChoiceField(label="For", choices=[("one-off", "one-off"), ("dealer", "dealer")], initial="one-off")
    by_1 = Day(label="To be sent by")
    by_2 = Day(label="or by", required=False)
    by_3 = Day(label="or by", required=False)

    @property
    def by(self) -> dict[str, dt.date]:
        """The days by the names of their fields."""
        return {name: self.cleaned_data[name] for name in ("by_1", "by_2", "by_3") if self.cleaned_data.get(name)}


def last_day(request: HttpRequest) -> HttpResponse:
    """Ask for the last day to order and answer it; nothing is booked or kept."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    at = posting.doing(here).at
    usual = {"by_1": _usual(clock.local_date(at, shop.zone))}
    form = LastDayForm(_with_defaults(here.GET) if "item" in here.GET else None, shop=shop, initial=usual)
    found: list[Last] = []
    if form.is_bound and form.is_valid():
        typed = form.cleaned_data
        try:
            found = last_days.find(typed["item"], typed["qty"], list(form.by.values()), kind=typed["kind"], at=at)
        except Refusal as refusal:
            places = {f"by.{place}": name for place, name in enumerate(form.by)}
            refusal.fields = {places.get(name, name): said for name, said in refusal.fields.items()}
            refuse(form, refusal)
    facts: dict[str, object] = {
        "promised": [one for one in availability.listed(at=at) if one.item.kind == "tool"],
        "sure": {"one_off": shop.sure_one_off, "dealer": shop.sure_dealer},
        "futures": last_days.FUTURES,
    }
    if found:
        typed = form.cleaned_data
        facts |= {
            "table": _table(found),
            "asked": f"{wording.figures(typed['qty'])} × {typed['item'].name}",
            "leaves_out": found[0].leaves_out,
            "too_late": any(one.order_by is None for one in found),
            "wanted": shop.sure_dealer if typed["kind"] == "dealer" else shop.sure_one_off,
        }
    return posting.sheet(here, "staff/counter/last_day.html", ROOM, facts, form=form)


def _with_defaults(typed: Any) -> dict[str, str]:
    """Return what an address asks for; how many and for whom may be left out of it."""
    return {"qty": "1", "kind": "one-off", **typed.dict()}


def _usual(today: dt.date) -> dt.date:
    """Return the day that stands in the form: 18 December of this year, or of the next once it is over."""
    day = dt.date(today.year, *BEFORE_THE_FEAST)
    return day if day >= today else dt.date(today.year + 1, *BEFORE_THE_FEAST)


def _table(found: list[Last]) -> Ruled:
    columns = [Column("to be sent by"), Column("last day to order"), Column("sent by then, in 100", figures=True)]
    rows = [
        [
            wording.on_day(one.by),
            wording.on_day(one.order_by) if one.order_by else "today is too late",
            f"{round(100 * one.chance)}",
        ]
        for one in found
    ]
    return Ruled("Last day to order", columns, rows)

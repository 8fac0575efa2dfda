"""Forms of the three questions, and of giving the day that was answered."""

import datetime as dt
from typing import Any

from django import forms

from inventory.models import Item
from orders.models import Question
from orders.services.ordering import Terms, Wanted
from shop.flows.ship_days.asking import MOST_PIECES
from shop.flows.ship_days.giving import Day as Giving
from shop.staff.fields import Day, SlipForm, Whole, Words
from shop.staff.item_field import ItemField
from shop.staff.views.counter_forms import BuyerForm, TermsForm

MORE = 3
_KINDS = [("one-off", "one-off"), ("dealer", "dealer")]


class AskForm(SlipForm):
    """How many of what, by when, for whom."""

    qty = Whole(label="How many", most=MOST_PIECES)
    item = ItemField(label="Of what", required=True)
    by_day = Day(label="By a day", required=False)
    kind = forms.ChoiceField(label="For", choices=_KINDS, initial="one-off")
    sure = Whole(label="Times in 100", least=50, most=99, required=False, help_text="Empty: the shop’s own figure.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in range(1, MORE):
            self.fields[f"qty_{number}"] = Whole(label="How many", most=MOST_PIECES, required=False)
            self.fields[f"item_{number}"] = ItemField(label="and of what", required=False)
        self.tune()

    def clean(self) -> dict[str, Any]:
        """Put the lines together."""
        typed = super().clean() or self.cleaned_data
        lines = [(typed.get("item"), typed.get("qty"))]
        for number in range(1, MORE):
            item, qty = typed.get(f"item_{number}"), typed.get(f"qty_{number}")
            if bool(item) != bool(qty) and not {f"item_{number}", f"qty_{number}"} & set(self.errors):
                self.add_error(f"qty_{number}" if item else f"item_{number}", "Write how many and of what, or neither.")
            lines.append((item, qty))
        typed["wanted"] = tuple((item, qty) for item, qty in lines if item and qty)
        return typed

    def names(self) -> dict[str, str]:
        """Return which field a refusal about a line means."""
        found = {"lines": "item", "by": "by_day", "day": "by_day"}
        for number in range(MORE):
            tail = f"_{number}" if number else ""
            found |= {f"lines.{number}.qty": f"qty{tail}", f"lines.{number}.item": f"item{tail}"}
        return found


class GiveForm(BuyerForm, TermsForm):
    """Who gets the day: the customer, their reference, how the pieces are wanted, another day, until when it is said."""

    options = Words(longest=120, label="With", required=False, help_text="16 in handle, name stamped.")
    day = Day(label="Another day", required=False)
    knowingly = forms.BooleanField(label="give it all the same, though it is not sure enough", required=False)
    said_until = Day(label="Keep it until the end of", required=False)
    below_minimum = forms.BooleanField(label="take it all the same, though it is a small order", required=False)
    how = forms.ChoiceField(
        choices=[("day", "day"), ("split", "split"), ("phone", "phone")], initial="day", required=False
    )

    def wanted(self, question: Question) -> list[Wanted]:
        """Return the lines that were asked for, as they are wanted."""
        items = {one.code: one for one in Item.objects.filter(code__in=[row["item"] for row in question.lines])}
        options = self.cleaned_data["options"]
        return [
            Wanted(int(row["pieces"]), items[row["item"]], options=options)
            for row in question.lines
            if row["item"] in items
        ]

    def given(self) -> Giving:
        """Return how the day is given."""
        typed = self.cleaned_data
        how = typed.get("how") or "day"
        until: dt.date | None = typed["said_until"] if how == "phone" else None
        return Giving(typed["day"], split=how == "split", knowingly=typed["knowingly"], said_until=until)

    def clean(self) -> dict[str, Any]:
        """See that what is said on the phone has a day on which it ends."""
        typed = super().clean()
        if typed.get("how") == "phone" and not typed.get("said_until") and "said_until" not in self.errors:
            self.add_error("said_until", "Until when is it kept? Write a day.")
        return typed

    def terms(self) -> Terms:
        """Return the terms as typed."""
        typed = self.cleaned_data
        return Terms(ship_to=typed["ship_to"], below_minimum=typed["below_minimum"], **self.facts())


class GiveAgainForm(SlipForm):
    """The day of an order that is in the queue: another one, and why."""

    day = Day(label="Another day", required=False)
    knowingly = forms.BooleanField(label="give it all the same, though it is not sure enough", required=False)
    reason = Words(longest=300, label="Why", required=False)

    def given(self) -> Giving:
        """Return how the day is given."""
        typed = self.cleaned_data
        return Giving(typed["day"], knowingly=typed["knowingly"], reason=typed["reason"])

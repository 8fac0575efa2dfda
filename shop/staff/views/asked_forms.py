"""Forms of the three questions, and of giving the day that was answered."""

import datetime as dt
from typing import Any

from django import forms

from inventory.models import Item
from orders.models import Customer, Question
from orders.queries.ship_day import chance_on
from orders.queries.shop_state.queue import sure_of
from orders.services.ordering import Terms, Wanted
from shop.flows.ship_days.asking import MOST_PIECES, Asked
from shop.flows.ship_days.giving import Day as Giving
from shop.staff.fields import Amount, Day, SlipForm, Whole, Words
from shop.staff.item_field import ItemField
from shop.staff.views.counter_forms import BuyerForm, TermsForm

MORE = 3
_KINDS = [("one-off", "one-off"), ("dealer", "dealer")]
ANSWERED, OTHER, SPLIT, PHONE, LOOK = HOW = ("answered", "day", "split", "phone", "look")


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

    def asked(self) -> Asked:
        """Return what is asked."""
        typed = self.cleaned_data
        return Asked(typed["wanted"], typed["kind"], typed["by_day"], typed["sure"])

    @property
    def more(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Return the fields of the lines that are folded away."""
        return [(self[f"qty_{number}"], self[f"item_{number}"]) for number in range(1, MORE)]

    @property
    def more_open(self) -> bool:
        """Say whether something stands in a line that is folded away, or in how sure it is to be."""
        return any(bound.value() or bound.errors for bound in (*sum(self.more, ()), self["sure"]))

    def names(self) -> dict[str, str]:
        """Return which field a refusal about a line means."""
        found = {"lines": "item", "by": "by_day", "day": "by_day"}
        for number in range(MORE):
            tail = f"_{number}" if number else ""
            found |= {f"lines.{number}.qty": f"qty{tail}", f"lines.{number}.item": f"item{tail}"}
        return found


class _Day(SlipForm):
    """The day that is given: the one that was answered, or another one, knowing how sure it is."""

    day = Day(label="Another day", required=False)
    knowingly = forms.BooleanField(label="give it all the same, though it is not sure enough", required=False)

    @property
    def how(self) -> str:
        """Return which button was pressed; without one, a day that is written means that day."""
        pressed = str(self.data.get("how", ""))
        return pressed if pressed in HOW else OTHER if self.data.get("day") else ANSWERED

    def clean(self) -> dict[str, Any]:
        """See that another day is written where another one is meant."""
        typed = super().clean() or self.cleaned_data
        if self.how in (OTHER, LOOK) and not typed.get("day") and "day" not in self.errors:
            self.add_error("day", "Which day? Write it here.")
        return typed

    @property
    def meant(self) -> dt.date | None:
        """Return the day that is meant; none: the one that was answered."""
        day: dt.date | None = self.cleaned_data["day"]
        return day if self.how in (OTHER, PHONE) else None


class GiveForm(_Day, BuyerForm, TermsForm):
    """Who gets the day: the customer, their reference, how the pieces are wanted, another day, until when it is said."""

    said_until = Day(label="Keep it until the end of", required=False)
    below_minimum = forms.BooleanField(label="take it all the same, though it is a small order", required=False)

    def __init__(self, *args: Any, question: Question, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.question = question
        items = {one.code: one for one in Item.objects.filter(code__in=[row["item"] for row in question.lines])}
        self.lines = [(items[row["item"]], int(row["pieces"])) for row in question.lines if row["item"] in items]
        for number, (item, _) in enumerate(self.lines):
            alone = len(self.lines) == 1
            how, price = ("With", "Price each") if alone else (f"{item.name}: with", f"{item.name}: price each")
            self.fields[f"with_{number}"] = Words(longest=120, label=how, required=False)
            self.fields[f"price_{number}"] = Amount(label=price, required=False)
        self.tune()

    @property
    def options(self) -> list[forms.BoundField]:
        """Return the fields that say how the pieces are wanted."""
        return [self[f"with_{number}"] for number in range(len(self.lines))]

    @property
    def prices(self) -> list[forms.BoundField]:
        """Return the fields of agreed prices."""
        return [self[f"price_{number}"] for number in range(len(self.lines))]

    @property
    def terms_open(self) -> bool:
        """Say whether something stands among prices and terms, which are folded away."""
        names = {*TermsForm.base_fields, "below_minimum"} - {"reference"}
        return any(bound.value() or bound.errors for bound in (*self.prices, *(self[name] for name in names)))

    def clean(self) -> dict[str, Any]:
        """See that a word on the phone has its last day, and that the day is as sure as such a customer is told."""
        typed = super().clean()
        if self.how == PHONE and not typed.get("said_until") and "said_until" not in self.errors:
            self.add_error("said_until", "Until when is it kept? Write a day.")
        buyer = typed.get("buyer")
        answered = self.question.state == Question.State.ANSWERED
        if isinstance(buyer, Customer) and answered and not self.errors and not typed.get("knowingly"):
            self._sure_enough(buyer)
        return typed

    def _sure_enough(self, buyer: Customer) -> None:
        """Ask about a day that was answered for another kind of customer, and is less sure than this one is told."""
        answer, wanted = self.question.answer, sure_of(buyer.kind, self.shop)
        if buyer.kind == self.question.customer_kind or round(1e6 * wanted) <= self.question.wanted_ppm:
            return
        day = self.meant or (dt.date.fromisoformat(answer["day"]) if answer.get("day") else None)
        parts = answer["by"]["split"] if self.how == SPLIT and answer.get("by") else []
        chances = [float(part["chance"]) for part in parts] or [chance_on(answer, day) if day else 0.0]
        if min(chances) < wanted:
            kind = "a dealer" if buyer.kind == Customer.Kind.DEALER else "a one-off customer"
            self.add_error(
                "customer",
                f"{buyer.name} is {kind}, who is told {round(100 * wanted)} in 100; this was asked for another kind. "
                "Ask again, or mark that you give it all the same.",
            )

    def wanted(self) -> list[Wanted]:
        """Return the lines that were asked for, as they are wanted."""
        typed = self.cleaned_data
        return [
            Wanted(qty, item, options=typed[f"with_{number}"], price_minor=typed[f"price_{number}"])
            for number, (item, qty) in enumerate(self.lines)
        ]

    def given(self) -> Giving:
        """Return how the day is given."""
        typed = self.cleaned_data
        until: dt.date | None = typed["said_until"] if self.how == PHONE else None
        return Giving(self.meant, split=self.how == SPLIT, knowingly=typed["knowingly"], said_until=until)

    def terms(self) -> Terms:
        """Return the terms as typed."""
        typed = self.cleaned_data
        return Terms(ship_to=typed["ship_to"], below_minimum=typed["below_minimum"], **self.facts())

    def names(self) -> dict[str, str]:
        """Return which field a refusal means; a line that goes in two parts is two lines to the order."""
        found = {"lines": "customer", "split": "day", "name": "customer"}
        many = len(self.lines)
        for number in range(2 * many):
            of = number if number < many else 0
            found |= {f"lines.{number}.options": f"with_{of}", f"lines.{number}.price": f"price_{of}"}
        return found


class SureForm(SlipForm):
    """How sure the day of an order in the queue is to be."""

    sure = Whole(label="Times in 100", least=50, most=99, required=False)


class GiveAgainForm(_Day):
    """The day of an order that is in the queue: another one, and why."""

    reason = Words(longest=300, label="Why", required=False)

    def given(self) -> Giving:
        """Return how the day is given."""
        typed = self.cleaned_data
        return Giving(self.meant, knowingly=typed["knowingly"], reason=typed["reason"])

    def names(self) -> dict[str, str]:
        """Return which field a refusal means."""
        return {}

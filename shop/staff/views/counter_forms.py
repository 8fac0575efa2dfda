"""Forms of the Counter: the order slip, the changes of an order, holds and customers."""

from collections.abc import Mapping
from typing import Any

from django import forms

from orders.models import Customer, Order
from orders.services.ordering import MOST_PIECES, Terms, Wanted
from shop.flows.ordering import Buyer, NewCustomer
from shop.shared import units
from shop.staff.fields import Amount, Day, SlipForm, Whole, Words, typed_amount
from shop.staff.file_field import FileField
from shop.staff.item_field import ItemField

LINES = 6
_SMALL = "Where it comes to less than the customer’s orders come to."
_HELD = ("reference", "ship_to", "day_given", "below_minimum")
_KINDS = [("one-off", "one-off"), ("dealer", "dealer")]


class BuyerForm(SlipForm):
    """Who buys: a name that is in the book, or a new one."""

    customer = Words(longest=120, label="Customer", attrs={"list": "customers"}, required=True)
    new = forms.BooleanField(label="a new customer", required=False)
    kind = forms.ChoiceField(label="is", choices=_KINDS, required=False, initial="one-off")
    phone = Words(longest=40, label="Telephone", required=False)
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    ship_to = Words(longest=600, rows=3, label="Send to", required=False)

    def clean(self) -> dict[str, Any]:
        """Find the customer, or take the particulars of a new one."""
        typed = super().clean() or self.cleaned_data
        name = typed.get("customer")
        if name:
            typed["buyer"] = self._buyer(name, typed)
        return typed

    def _buyer(self, name: str, typed: Mapping[str, Any]) -> Buyer | None:
        found = self._known(name)
        if typed.get("new"):
            if found:
                self.add_error("new", f"{name} is in the book already; take the mark off, or write the name apart.")
            return NewCustomer(
                name=name,
                kind=typed.get("kind") or "one-off",
                email=typed.get("email") or "",
                phone=typed.get("phone") or "",
                address=typed.get("ship_to") or "",
            )
        if len(found) == 1:
            return found[0]
        if found:
            numbers = " or ".join(f"{name} (no {customer.pk})" for customer in found)
            self.add_error("customer", f"There are {len(found)} of this name; write {numbers}.")
        else:
            self.add_error("customer", f"“{name}” is nobody in the book; choose a name, or mark a new customer.")
        return None

    @staticmethod
    def _known(name: str) -> list[Customer]:
        start, _, number = name.rpartition(" (no ")
        own = units.plain_number(number.removesuffix(")")) if number.endswith(")") else None
        if start and own is not None:
            return list(Customer.objects.filter(pk=own, name__iexact=start, active=True))
        return list(Customer.objects.filter(name__iexact=name, active=True).order_by("id")[:5])


class TermsForm(SlipForm):
    """What was agreed besides the lines."""

    reference = Words(longest=80, label="Their reference", required=False)
    gift = forms.BooleanField(label="a gift: no prices on the slip", required=False)
    gift_note = Words(longest=300, label="Note for the gift", required=False)
    start_when_deposit = forms.BooleanField(label="start only when the deposit is in", required=False)
    deposit_minor = Amount(label="Deposit", required=False)
    send_when_paid = forms.BooleanField(label="send only when paid", required=False)
    carriage_minor = Amount(label="Carriage", required=False)
    not_before = Day(label="Not before", required=False)
    not_after = Day(label="Not after", required=False)
    note = Words(longest=300, label="Note for the shop", required=False)

    def clean(self) -> dict[str, Any]:
        """See that a deposit is named where the start waits for it."""
        typed = super().clean() or self.cleaned_data
        if typed.get("start_when_deposit") and not typed.get("deposit_minor") and "deposit_minor" not in self.errors:
            self.add_error("deposit_minor", "The start waits for a deposit; write how much it is.")
        return typed

    def facts(self) -> dict[str, Any]:
        """Return the terms as the order keeps them."""
        typed = self.cleaned_data
        facts = {name: typed[name] for name in TermsForm.base_fields}
        for name in ("deposit_minor", "carriage_minor"):
            facts[name] = facts[name] or 0
        return facts


class OrderSlip(BuyerForm, TermsForm):
    """The whole slip: who, what, to where, on what terms, by when."""

    day_given = Day(label="Day given", required=False)
    below_minimum = forms.BooleanField(label="take it all the same", required=False, help_text=_SMALL)
    made_words = Words(longest=300, rows=2, label="Made to order, in words", required=False)
    made_qty = Whole(label="how many", required=False, most=MOST_PIECES)
    made_price = Amount(label="price for one", required=False)
    made_file = FileField("Drawing or photo")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in range(LINES):
            self.fields[f"item_{number}"] = ItemField(label="Item", required=False)
            self.fields[f"qty_{number}"] = Whole(label="how many", required=False, most=MOST_PIECES)
            self.fields[f"price_{number}"] = Amount(label="price each", required=False)
            self.fields[f"whole_{number}"] = forms.BooleanField(label="goes whole", required=False)
            self.fields[f"with_{number}"] = Words(longest=120, label="with", required=False)
        self.tune()
        for name in self.fields:
            if name.startswith(("item_", "qty_", "price_", "with_")):
                self.fields[name].widget.attrs["class"] = "row"

    def rows(self) -> list[dict[str, Any]]:
        """Return the fields of each line of the slip, for the template."""
        return [{part: self[f"{part}_{n}"] for part in ("item", "qty", "price", "whole", "with")} for n in range(LINES)]

    def clean(self) -> dict[str, Any]:
        """Put the lines together; each names its item and how many."""
        typed = super().clean()
        typed["wanted"] = []
        self.places: list[dict[str, str]] = []
        for number in range(LINES):
            parts = ("item", "qty", "price", "whole", "with")
            self._line(typed, *(f"{part}_{number}" for part in parts))
        self._line(typed, "made_words", "made_qty", "made_price")
        if typed.get("made_file") and not typed.get("made_words") and "made_words" not in self.errors:
            self.add_error("made_words", "A file alone says too little; write in words what is to be made.")
        if not typed["wanted"] and not self.errors:
            self.add_error("item_0", "Nothing is wanted yet; write an item and how many.")
        return typed

    def _line(self, typed: dict[str, Any], what: str, qty: str, price: str, whole: str = "", options: str = "") -> None:
        if {what, qty, price} & set(self.errors):
            return
        if not typed.get(what):
            if typed.get(qty) or typed.get(price) is not None or typed.get(options):
                self.add_error(what, "How many is written but not of what; write that too, or empty the line.")
            return
        if not typed.get(qty):
            self.add_error(qty, "How many? Write a whole number.")
            return
        item, words = (typed[what], "") if whole else (None, typed[what])
        drawing = None if whole else typed.get("made_file")
        price_minor, goes_whole = typed.get(price), bool(typed.get(whole))
        line = Wanted(
            typed[qty], item, words, typed.get(options, ""), drawing, price_minor=price_minor, whole=goes_whole
        )
        typed["wanted"].append(line)
        place = {"qty": qty, "item": what, "price": price, "file": "made_file", "options": options or what}
        self.places.append(place)

    def names(self) -> dict[str, str]:
        """Return which field of the slip a refusal about a line means."""
        return {f"lines.{n}.{part}": name for n, place in enumerate(self.places) for part, name in place.items()}

    def terms(self) -> Terms:
        """Return the terms as typed."""
        typed = self.cleaned_data
        small = typed["below_minimum"]
        return Terms(ship_to=typed["ship_to"], day_given=typed["day_given"], below_minimum=small, **self.facts())


class HeldSlip(BuyerForm):
    """Turning a hold into an order: who, the price, where to, by when."""

    reference = Words(longest=80, label="Their reference", required=False)
    price = Amount(label="Agreed for one", required=False, help_text="Empty: the list price.")
    day_given = Day(label="Day given", required=False)
    below_minimum = forms.BooleanField(label="take it all the same", required=False, help_text=_SMALL)

    def terms(self) -> Terms:
        """Return the terms as typed."""
        return Terms(**{name: self.cleaned_data[name] for name in _HELD})


class ChangeForm(TermsForm):
    """Reference, address and terms of an order until it is sent."""

    ship_to = Words(longest=600, rows=3, label="Send to", required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)

    field_order = ("ship_to", "reference")

    @staticmethod
    def typed_already(order: Order, currency: str) -> dict[str, Any]:
        """Return what the fields say before anything is changed."""
        facts = {name: getattr(order, name) for name in (*TermsForm.base_fields, "ship_to", "version")}
        for name in ("deposit_minor", "carriage_minor"):
            facts[name] = typed_amount(facts[name], currency) if facts[name] else ""
        return facts


class LineForm(SlipForm):
    """One more line on an order: an item, or words for one made to order."""

    item = ItemField(label="Item", required=False)
    words = Words(longest=300, rows=2, label="or made to order, in words", required=False)
    file = FileField("Drawing or photo")
    options = Words(
        longest=120, label="With", required=False, help_text="How the item is wanted: 16 in handle, name stamped."
    )
    qty = Whole(label="How many", most=MOST_PIECES)
    price = Amount(label="Agreed for one", required=False, help_text="Empty: the list price.")

    def clean(self) -> dict[str, Any]:
        """See that it is either an item or words."""
        typed = super().clean() or self.cleaned_data
        if not self.errors and bool(typed.get("item")) == bool(typed.get("words")):
            self.add_error("item", "Write an item, or words for one made to order, and not both.")
        if typed.get("file") and typed.get("item"):
            self.add_error("file", "A file goes with words for what is to be made, not with an item.")
        if typed.get("options") and typed.get("words"):
            self.add_error("options", "This goes with an item; say it in the words of what is to be made.")
        return typed


class QtyForm(SlipForm):
    """So many."""

    qty = Whole(label="How many", most=MOST_PIECES)


class SomeForm(SlipForm):
    """So many, or all there is where nothing is written."""

    qty = Whole(label="How many", required=False, most=MOST_PIECES, help_text="Empty: all there is.")


class PriceForm(SlipForm):
    """The agreed price for one."""

    price = Amount(label="Agreed for one")


class OptionsForm(SlipForm):
    """How an item is wanted."""

    options = Words(longest=120, label="With", required=False, help_text="16 in handle, name stamped.")


class OneOffForm(SlipForm):
    """Whether a line will come again."""

    one_off = forms.ChoiceField(
        label="Such an order", choices=[("no", "may come again"), ("yes", "is one-off, not forecast")],
        widget=forms.RadioSelect,
    )  # fmt: skip


class ReasonForm(SlipForm):
    """A few words why."""

    reason = Words(longest=300, label="Why", required=False)


class CancelForm(QtyForm, ReasonForm):
    """So many, and why."""

    field_order = ("qty", "reason")


class MoneyForm(SlipForm):
    """Money received, or given back."""

    amount = Amount(label="How much")
    way = forms.ChoiceField(
        label="Which way",
        choices=[("in", "received"), ("back", "given back")],
        initial="in",
        widget=forms.RadioSelect,
    )
    how = Words(longest=60, label="How", required=False, help_text="Transfer, cash, card at the fair.")


class DayForm(SlipForm):
    """A day given to the customer."""

    day = Day(label="Day given")
    reason = Words(longest=300, label="Why", required=False)


class HoldForm(SlipForm):
    """What is put by for a caller, and until when."""

    item = ItemField(label="Item", required=True)
    qty = Whole(label="How many", most=MOST_PIECES)
    name = Words(longest=120, label="For whom", required=True)
    until = Day(label="Until the end of")


class CustomerForm(SlipForm):
    """What is known of a customer."""

    name = Words(longest=120, label="Name", required=True)
    kind = forms.ChoiceField(label="is", choices=_KINDS, initial="one-off")
    phone = Words(longest=40, label="Telephone", required=False)
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    address = Words(longest=600, rows=4, label="Address", required=False)
    terms = Words(longest=200, label="Terms agreed", required=False)
    minimum_minor = Amount(label="An order comes to at least", required=False, help_text="Empty: any order is taken.")
    takes_parts = forms.BooleanField(label="takes a part of an order before the rest", required=False, initial=True)
    active = forms.BooleanField(label="still buys", required=False, initial=True)

    def facts(self) -> dict[str, Any]:
        """Return what was typed as the book keeps it."""
        return {**self.cleaned_data, "minimum_minor": self.cleaned_data["minimum_minor"] or 0}


class FindForm(SlipForm):
    """A number, or part of a name or reference."""

    find = Words(longest=80, label="Order number, customer or reference", required=False, attrs={"type": "search"})
    every = forms.BooleanField(label="also closed ones", required=False)
    before = forms.IntegerField(required=False, min_value=1, max_value=2**31 - 1, widget=forms.HiddenInput)

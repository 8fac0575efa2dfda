"""Forms of purchase orders: what is ordered in as many lines as wanted, how it is sent, when it comes."""

from collections.abc import Mapping
from typing import Any

from django import forms

from inventory.models import PurchaseOrder
from inventory.queries import prices
from shop.access.middleware import Here
from shop.staff.fields import Amount, Day, SlipForm, Words, typed_amount

LINES, MOST_LINES = 4, 40
MORE = "more"
FIELDS = ("item", "shape", "size", "qty", "price")
_SHAPES = [("", "no steel"), ("round", "round"), ("square", "square"), ("hexagon", "hexagon"), ("octagon", "octagon")]


class BuyForm(SlipForm):
    """What is ordered: goods or steel, a line each; an order that is changed keeps its supplier."""

    supplier = Words(longest=120, label="Supplier", attrs={"list": "suppliers"}, help_text="a new name is added")
    ordered_on = Day(label="Ordered on")
    wanted_on = Day(label="Wanted on", required=False)
    note = Words(longest=300, label="Note", required=False, help_text="goes to the supplier")
    plan = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1, max_value=999_999_999)

    def __init__(self, *args: Any, lines: int = LINES, of: PurchaseOrder | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = max(LINES, min(lines, MOST_LINES))
        if of is not None:
            for name in ("supplier", "ordered_on", "plan"):
                del self.fields[name]
            self.fields["version"] = forms.IntegerField(
                widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000, initial=of.version
            )
        for n in range(self.lines):
            self.fields[f"item_{n}"] = Words(
                longest=120, label="Item, or grade of steel", required=False, attrs={"list": "goods"}
            )
            self.fields[f"shape_{n}"] = forms.ChoiceField(label="Shape", choices=_SHAPES, required=False)
            self.fields[f"size_{n}"] = Words(longest=40, label="Size", required=False, help_text="2 in, 50 mm")
            self.fields[f"qty_{n}"] = Words(
                longest=60, label="How many", required=False, help_text="7 @ 20 ft, 3 dozen"
            )
            self.fields[f"price_{n}"] = Amount(
                label="Price of the line", required=False, help_text="empty: as noted, if it is"
            )
        self.tune()

    def rows(self) -> list[list[forms.BoundField]]:
        """Return the fields of each line."""
        return [[self[f"{name}_{n}"] for name in FIELDS] for n in range(self.lines)]

    def typed_lines(self) -> list[tuple[int, str, str, str, str, int | None]]:
        """Return the lines in which something was typed: number, item, shape, size, how many, price in minor units."""
        typed = self.cleaned_data
        lines = [(n, *(typed[f"{name}_{n}"] for name in FIELDS[:-1]), typed[f"price_{n}"]) for n in range(self.lines)]
        return [line for line in lines if any(line[1:5]) or line[5] is not None]


def typed_of(order: PurchaseOrder, currency: str) -> dict[str, object]:
    """Return an order as the form shows it; a price only where a person wrote another than the supplier's noted one."""
    first: dict[str, object] = {"wanted_on": order.wanted_on, "note": order.note}
    known = prices.noted([order.supplier_id])
    for n, line in enumerate(order.lines.all()):
        noted = prices.of_line(known.get((order.supplier_id, line.item_id), ()), line.item, line.qty, line.bars)
        first |= {f"item_{n}": line.item.code, f"qty_{n}": line.typed or str(line.qty)}
        # The noted price left out is reckoned anew, with its price breaks, when the quantity changes.
        first[f"price_{n}"] = "" if line.price_minor == noted else typed_amount(line.price_minor, currency)
    return first


def asks_for_more(here: Here) -> bool:
    """Return whether the form was sent only to get one more line."""
    return here.method == "POST" and here.POST.get("do") == MORE


def sent_lines(here: Here) -> int:
    """Return how many lines were sent, and one more where that was asked for."""
    sent = 1 + max((n for n in range(MOST_LINES) if f"item_{n}" in here.POST), default=0)
    return sent + 1 if asks_for_more(here) else sent


def asked_lines(asked: Mapping[str, object]) -> int:
    """Return how many lines are filled in, and one that is empty."""
    return 2 + max((n for n in range(MOST_LINES) if f"item_{n}" in asked), default=-1)


class ConfirmForm(SlipForm):
    """The day the supplier confirmed."""

    day = Day(label="Confirmed for")
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)


class CloseForm(SlipForm):
    """Why nothing more will come."""

    reason = Words(longest=300, label="Why", required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)


class SendForm(SlipForm):
    """How the order goes to the supplier."""

    how = forms.ChoiceField(
        label="How", choices=[("printed", "on paper"), ("e-mail", "by e-mail"), ("phone", "said on the phone")]
    )
    to = Words(longest=254, label="E-mail of the supplier", required=False, attrs={"inputmode": "email"})
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)


class AskedForm(SlipForm):
    """That the supplier was asked today: by whoever presses, or by e-mail from here."""

    to = Words(longest=254, label="E-mail of the supplier", required=False, attrs={"inputmode": "email"})
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)

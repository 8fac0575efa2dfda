"""Forms of the Shelf: making up, items, what a tool is made of."""

import re
from typing import Any

from django import forms

from inventory.models import Item, Pattern, Supplier
from orders.services.ordering import MOST_PIECES
from shop.shared import units
from shop.shared.errors import Invalid
from shop.staff.fields import Amount, Moment, SlipForm, Typed, Weight, Whole, Words, typed_amount
from shop.staff.item_field import ItemField

MORE_PARTS = 3
MOST_PARTS = 60
_PART_NAME = re.compile(r"item_[0-9]{1,4}")
_KINDS = [
    ("tool", "tool: head and handle, sold as one"),
    ("head", "head"),
    ("handle", "handle"),
    ("consumable", "consumable: bought in one unit, used in another"),
    ("blank", "blank"),
]
_UNITS = [("piece", "pieces"), ("mg", "weight"), ("ul", "volume")]


class Quantity(Typed):
    """A quantity in an item's own unit: a whole number, a weight or a volume."""

    item: Item | None = None

    def read(self, text: str) -> int:
        """Read what was typed in the unit of the item."""
        return quantity(text, self.item.unit if self.item else Item.Unit.PIECE)


def quantity(text: str, unit: str, *, field: str = "quantity", least: int = 0) -> int:
    """Read a quantity in a unit of stock."""
    if unit == Item.Unit.MG:
        return units.parse_mass(text, field=field, allow_zero=not least).mg
    if unit == Item.Unit.UL:
        return units.parse_volume(text, field=field, allow_zero=not least).ul
    return units.parse_whole(text, field, least=least, most=100_000_000)


def typed_quantity(item: Item, qty: int | None) -> str:
    """Return a quantity as a hand would type it."""
    if qty is None:
        return ""
    if item.unit == Item.Unit.MG:
        return units.mass_kg(qty, figures=12).replace("\u2009", "")
    if item.unit == Item.Unit.UL:
        return f"{qty / units.UL_PER_LITRE:.6f}".rstrip("0").rstrip(".") + " L"
    return str(qty)


class MakeUpForm(SlipForm):
    """So many tools, made up at the bench."""

    qty = Whole(label="How many are made up", most=MOST_PIECES)
    happened_at = Moment(label="Made up at", help_text="Empty: now.")


_COUNTED = [("", "by what it turns over"), *((one.value, one.value) for one in Item.Counted)]
_STORED = [("", "anything else"), ("lp gas", "LP-gas"), ("oxygen", "oxygen"), ("flammable", "flammable")]


class ItemForm(SlipForm):
    """What is known of an item; quantities in its own unit."""

    name = Words(longest=120, label="Name", required=True)
    retail_minor = Amount(label="List price", required=False)
    dealer_minor = Amount(label="Dealer price", required=False)
    shipped_mass = Weight(label="Weight as sent, with handle and box", required=False)
    reorder_point = Words(longest=40, label="Reorder point", required=False)
    reorder_quantity = Words(longest=40, label="How much is ordered", required=False)
    lead_days = Whole(label="Days until it comes", required=False, least=0, most=1000)
    counted = forms.ChoiceField(label="Counted", choices=_COUNTED, required=False)
    service_percent = Whole(
        label="Not dry in",
        required=False,
        least=50,
        most=99,
        help_text="Of 100 reorders; empty: by how often it is counted.",
    )
    shelf_life_days = Whole(label="Keeps, days", required=False, least=1, most=10_000)
    most_kept = Words(longest=40, label="Room for", required=False)
    stored_as = forms.ChoiceField(label="Stored as", choices=_STORED, required=False)
    supplier = forms.ModelChoiceField(
        label="Supplier", queryset=Supplier.objects.none(), required=False, empty_label="none"
    )
    buy_unit = Words(longest=20, label="Bought by the", required=False, help_text="dozen, box, pail")
    issue_per_buy = Words(longest=40, label="how much is in one", required=False)
    eye_size = Words(longest=20, label="Eye", required=False)
    safety_sheet = forms.URLField(label="Safety data sheet", required=False, max_length=200, assume_scheme="https")
    caution = Words(longest=300, rows=3, label="Caution for the slip", required=False)
    active = forms.BooleanField(label="is kept", required=False, initial=True)

    def __init__(self, *args: Any, unit: str = Item.Unit.PIECE, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.counted_in = unit
        self.fields["supplier"].queryset = Supplier.objects.order_by("name")  # type: ignore[attr-defined]
        self.fields["supplier"].error_messages["invalid_choice"] = "This supplier is not in the book; choose again."

    def clean(self) -> dict[str, Any]:
        """Read the quantities in the unit of the item."""
        typed = super().clean() or self.cleaned_data
        unit = typed.get("unit") or self.counted_in
        for name, least in (("reorder_point", 0), ("reorder_quantity", 1), ("issue_per_buy", 1), ("most_kept", 1)):
            text = typed.get(name)
            if name in typed:
                typed[name] = self._read(name, text, unit, least) if text else None
        return typed

    def _read(self, name: str, text: str, unit: str, least: int) -> int | None:
        try:
            return quantity(text, unit, field=str(self.fields[name].label), least=least)
        except Invalid as refusal:
            self.add_error(name, refusal.sentence)
            return None

    def facts(self) -> dict[str, Any]:
        """Return what the catalogue keeps of it."""
        facts = {name: self.cleaned_data[name] for name in ItemForm.base_fields if name != "shipped_mass"}
        weight = self.cleaned_data["shipped_mass"]
        facts["shipped_mass_mg"] = weight.mg if weight else None
        facts["issue_per_buy"] = facts["issue_per_buy"] or 1
        return facts


class NewItemForm(ItemForm):
    """An item that is not in the book yet: also its code, kind and unit, which never change."""

    code = Words(longest=30, label="Code", required=True, help_text="Begins with a letter: CP-2, HANDLE-16.")
    kind = forms.ChoiceField(label="Kind", choices=_KINDS)
    unit = forms.ChoiceField(label="Counted by", choices=_UNITS)
    pattern = forms.ModelChoiceField(
        label="Pattern", queryset=Pattern.objects.none(), required=False, empty_label="none"
    )

    field_order = ("code", "name", "kind", "unit", "pattern")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pattern"].queryset = Pattern.objects.order_by("name")  # type: ignore[attr-defined]
        self.fields["pattern"].error_messages["invalid_choice"] = "This pattern is not in the book; choose again."

    def facts(self) -> dict[str, Any]:
        """Return what the catalogue keeps of it."""
        more = {name: self.cleaned_data[name] for name in ("kind", "unit", "pattern")}
        return {**super().facts(), **more, "code": self.cleaned_data["code"].upper()}


class RecipeForm(SlipForm):
    """What goes into one tool: a row for each part that goes in already, and a few more."""

    def __init__(self, *args: Any, parts: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sent = [int(name[5:]) for name in self.data if _PART_NAME.fullmatch(name)]
        self.count = max(parts + MORE_PARTS, min(MOST_PARTS, max(sent, default=0) + 1))
        for number in range(self.count):
            self.fields[f"item_{number}"] = ItemField(label="Part", required=False)
            self.fields[f"qty_{number}"] = Words(longest=40, label="how many go in", required=False)

    def rows(self) -> list[dict[str, Any]]:
        """Return the fields of each part, for the template."""
        return [{"item": self[f"item_{n}"], "qty": self[f"qty_{n}"]} for n in range(self.count)]

    def clean(self) -> dict[str, Any]:
        """Put the parts together."""
        typed = super().clean() or self.cleaned_data
        typed["parts"] = {}
        for number in range(self.count):
            self._part(typed, f"item_{number}", f"qty_{number}")
        return typed

    def _part(self, typed: dict[str, Any], name: str, qty_name: str) -> None:
        item, text = typed.get(name), typed.get(qty_name)
        if {name, qty_name} & set(self.errors):
            return
        if not item or not text:
            if item or text:
                self.add_error(name if text else qty_name, "Write the part and how many of it, or empty the line.")
            return
        if item in typed["parts"]:
            self.add_error(name, f"{item.code} stands here twice; write it once with how many of it go in.")
            return
        try:
            typed["parts"][item] = quantity(text, item.unit, field="how many go in", least=1)
        except Invalid as refusal:
            self.add_error(qty_name, refusal.sentence)


def typed_already(item: Item, currency: str) -> dict[str, Any]:
    """Return what the fields of an item say before anything is changed."""
    facts = {name: getattr(item, name) for name in ItemForm.base_fields if name != "shipped_mass"}
    for name in ("retail_minor", "dealer_minor"):
        facts[name] = typed_amount(facts[name], currency)
    for name in ("reorder_point", "reorder_quantity", "issue_per_buy", "most_kept"):
        facts[name] = typed_quantity(item, facts[name])
    mass = item.shipped_mass_mg
    facts["shipped_mass"] = units.mass_kg(mass, figures=12).replace("\u2009", "") if mass else ""
    return facts

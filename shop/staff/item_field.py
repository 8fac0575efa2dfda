"""The field that takes an item by its code or its name."""

from typing import Any

from django import forms

from inventory.models import Item
from inventory.queries import shelf
from shop.staff.fields import Words


def meant(text: str) -> Item:
    """Return the item that a code or name means, or refuse."""
    found = shelf.named(text)
    if not found:
        raise forms.ValidationError(f"“{text}” is no code or name on the shelf; choose one from the list.")
    if len(found) > 1:
        codes = ", ".join(item.code for item in found)
        raise forms.ValidationError(f"“{text}” may be {codes}; write the code.")
    return found[0]


class ItemField(Words):
    """An item by its code or name; `list` names the page's list of what can be promised."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(longest=120, attrs={"list": "promised", "autocapitalize": "off"}, **kwargs)

    def clean(self, value: Any) -> Any:
        """Return the item, or nothing where nothing was typed."""
        text = super().clean(value)
        return meant(text) if text else None

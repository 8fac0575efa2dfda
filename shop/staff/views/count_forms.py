"""The form of one line of a count sheet: pieces, tins by quarters, or a bar that is ticked or taped."""

from typing import Any

from django import forms

from inventory.calc.counts.quarters import Tins, units
from inventory.models import StockCountLine
from shop.flows import count_sheets as flow
from shop.staff.fields import Moment, SlipForm, Whole, Words
from shop.staff.views.shelf_forms import Quantity

_PARTS = [("0", "none"), ("1", "1/4"), ("2", "1/2"), ("3", "3/4")]


class LineForm(SlipForm):
    """What is there of a line."""

    here = forms.ChoiceField(
        label="The bar", choices=[("yes", "is here"), ("no", "is not here")], widget=forms.RadioSelect, initial="yes"
    )
    found = Quantity(label="How many are there")
    whole = Whole(label="Whole ones", least=0, most=100_000)
    part = forms.ChoiceField(label="and one that is part full", choices=_PARTS, widget=forms.RadioSelect, initial="0")
    length = Words(longest=40, label="Its length, where it was taped", required=False)
    reason = Words(longest=300, label="Why it is so", required=False)
    happened_at = Moment(label="Counted at", help_text="Empty: now.")

    def __init__(self, *args: Any, line: StockCountLine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = line.item
        poured = item.unit in flow.BUY_WHOLE and bool(item.buy_unit) and line.lot is None
        wanted = {"here", "length"} if line.lot is not None else {"whole", "part"} if poured else {"found"}
        for name in {"here", "length", "found", "whole", "part"} - wanted:
            del self.fields[name]
        if "found" in self.fields:
            self.fields["found"].item = item  # type: ignore[attr-defined]
        if poured:
            self.fields["whole"].label = f"Whole {item.buy_unit}s"
        self.line = line

    def counted(self) -> tuple[int, str]:
        """Return what is there in the item's unit, and as it was typed."""
        typed = self.cleaned_data
        if "whole" in typed:
            part = int(typed["part"])
            tins = Tins(typed["whole"], (part,) if part else ())
            return units(tins, self.line.item.issue_per_buy), f"{typed['whole']} and {dict(_PARTS)[typed['part']]}"
        return typed["found"], self.data.get("found", "")[:60]

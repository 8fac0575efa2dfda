"""The forms of a pattern's page: what a head should be, a route to begin with, a point counted afresh."""

from typing import Any

from django import forms

from inventory.models import Item, ToolingSet
from inventory.services import routes
from inventory.services.patterns import MOST_RUN
from shop.shared import units
from shop.staff.fields import Amount, SlipForm, Typed, Weight, Whole, Words


class Percent(Typed):
    """A share in per cent, kept in parts of a million."""

    def read(self, text: str) -> int:
        """Read a share."""
        return units.parse_percent_ppm(text)


class Hrc(Typed):
    """A hardness in HRC, kept in tenths."""

    def read(self, text: str) -> int:
        """Read a hardness."""
        return units.parse_tenths(text, "hardness", most=700)


class PatternForm(SlipForm):
    """What a head of this pattern should be."""

    head_mass = Weight(label="Bare head", required=False)
    light_below = Weight(label="Light is under", required=False)
    heavy_above = Weight(label="Heavy is over", required=False)
    loss = Percent(label="Lost from blank to head, %")
    hard_low = Hrc(label="Hardness from, HRC", required=False)
    hard_high = Hrc(label="to, HRC", required=False)
    hard_source = Words(longest=80, label="Published in", required=False, help_text="Document and edition.")
    aim = Words(longest=120, label="The shop's own aim", required=False)
    crack_check = forms.BooleanField(label="Every head is looked at for cracks", required=False)
    usual_run = Whole(label="Usual run", most=MOST_RUN, help_text="Pieces: orders are made together up to so many.")
    most_run = Whole(
        label="Most of a run", most=MOST_RUN, help_text="Pieces: what one bar, the oven or the rack takes."
    )
    labour = Amount(label="An hour of work costs", required=False)
    items = Words(
        longest=300, label="Also made by it", required=False, help_text="Codes of blank, head or tools, commas between."
    )


class RouteForm(SlipForm):
    """A route to begin with."""

    seed = forms.ChoiceField(
        label="Made", choices=[(name, name) for name in routes.SEEDS], widget=forms.RadioSelect, initial="free-hand"
    )
    new = forms.BooleanField(label="A new pattern: expect to lose more", required=False)
    tooling = forms.ChoiceField(label="Tooling", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sets = ToolingSet.objects.order_by("code")
        self.fields["tooling"].choices = [("", "none"), *((one.code, f"{one.code}, {one.name}") for one in sets)]  # type: ignore[attr-defined]
        there = Item.objects.filter(kind=Item.Kind.CONSUMABLE, active=True).order_by("name")
        items = [("", "not kept"), *((one.code, one.name) for one in there)]
        for number, word in enumerate(routes.seed_words()):
            self.fields[f"use_{number}"] = forms.ChoiceField(label=word.capitalize(), choices=items, required=False)

    def uses(self) -> dict[str, str]:
        """Return the shop's own items by the words of the seed."""
        typed = self.cleaned_data
        words = enumerate(routes.seed_words())
        return {word: typed[f"use_{number}"] for number, word in words if typed[f"use_{number}"]}


class AfreshForm(SlipForm):
    """A counting point that learns from now on only."""

    point = forms.ChoiceField(label="Count afresh from now")

"""Forms at the saw."""

from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.models import Item, Place
from inventory.queries import rack
from inventory.services import catalogue, reading
from inventory.services.cutting import SawJob
from shop.shared import units
from shop.shared.errors import Invalid
from shop.staff.fields import Moment, SlipForm, Whole, Words

_UNITS = [("", "as written"), ("ft", "feet"), ("in", "inches"), ("m", "metres"), ("mm", "millimetres")]
OTHER = "other"
_WIDEST_KERF = units.NM_PER_INCH  # no saw takes more


class SawForm(SlipForm):
    """What every cut asks: the kerf, a note, when."""

    unit = forms.ChoiceField(label="A bare number is", choices=_UNITS, required=False)
    kerf = Words(longest=40, label="Kerf", required=False, help_text="what one cut takes")
    slot = forms.ChoiceField(label="Slot of what is left", choices=[], required=False)
    note = Words(longest=300, label="Note", required=False)
    happened_at = Moment(label="Sawn at", help_text="Empty: now.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        slots = rack.slots().filter(kind=Place.Kind.RACK)
        self.fields["slot"].choices = [("", "where it stood"), *((p.code, p.name) for p in slots)]  # type: ignore[attr-defined]
        self.fields["kerf"].help_text = f"empty: {units.both(self.shop.kerf_nm)}, the shop's own"

    def length_nm(self, name: str) -> int:
        """Return the length typed in a field, nm; 0 where nothing is."""
        typed = self.cleaned_data[name]
        return units.parse_length(typed, default_unit=self.bare_unit, field=name).nm if typed else 0

    @property
    def bare_unit(self) -> str | None:
        """Return the unit of a bare number; nothing where it must be written."""
        return self.cleaned_data["unit"] or None

    def job(self, **what: Any) -> SawJob:
        """Return what was sawn: kerf, rests by the tape and their slot as typed, and `what` else came off."""
        typed = self.cleaned_data
        left = reading.sawn_list(typed["left"], unit=self.bare_unit, field="left")
        return SawJob(
            kerf_nm=self._kerf_nm(),
            left=[part for parts in left for part in parts],
            scrap=typed.get("scrap", False),
            slot=catalogue.place(typed["slot"]) if typed["slot"] else None,
            **what,
        )

    def _kerf_nm(self) -> int:
        typed = self.cleaned_data["kerf"]
        if not typed:
            return self.shop.kerf_nm
        kerf = units.parse_length(typed, default_unit=self.bare_unit, field="kerf", allow_zero=True).nm
        if kerf > _WIDEST_KERF:
            raise Invalid.field("kerf", "Kerf: more than an inch is written; look at the unit.")
        return kerf


class CutForm(SawForm):
    """Pieces off a bar."""

    blank = forms.ChoiceField(label="Blank", choices=[])
    length = Words(longest=40, label="Length of another blank", required=False, help_text="4-7/16 in, 112 mm")
    pieces = Whole(label="Pieces", most=2_000)
    left = Words(longest=200, label="Left, by the tape", required=False, help_text="16 ft 3 in; empty where nothing is")
    scrap = forms.BooleanField(label="The rest is scrap", required=False)
    trim = Words(longest=40, label="Trim off a bad end", required=False)
    field_order = ("blank", "length", "pieces", "left", "scrap", "trim", "unit", "kerf", "slot", "note", "happened_at")

    def __init__(self, *args: Any, blanks: Sequence[tuple[Item, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = [(item.code, f"{item.name} ({fit} fit)") for item, fit in blanks]
        self.fields["blank"].max_length = 120  # type: ignore[attr-defined] # the page gives long answers a whole row
        self.fields["blank"].choices = [*known, (OTHER, "another length")]  # type: ignore[attr-defined]


class TwoForm(SawForm):
    """A bar in two."""

    left = Words(longest=200, label="The lengths, by the tape", help_text="9 ft 11 in + 10 ft 1 in")
    field_order = ("left", "unit", "kerf", "slot", "note", "happened_at")


class OwnForm(SawForm):
    """A length for own tooling."""

    length = Words(longest=40, label="Length taken", help_text="14 in, 350 mm")
    left = Words(longest=200, label="Left, by the tape", required=False)
    scrap = forms.BooleanField(label="The rest is scrap", required=False)
    field_order = ("length", "left", "scrap", "unit", "kerf", "slot", "note", "happened_at")


class SizesForm(SlipForm):
    """Two sizes of a bar."""

    sizes = Words(longest=60, label="Two sizes", help_text="2.004/1.998, at a right angle to each other")
    unit = forms.ChoiceField(label="Bare numbers are", choices=_UNITS, initial="in", required=False)

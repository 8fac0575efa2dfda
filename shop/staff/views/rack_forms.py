"""Forms of the Rack: a new slot, a length, where to, why."""

from typing import Any

from django import forms

from inventory.models import Place
from inventory.queries import rack
from shop.staff.fields import Moment, SlipForm, Words

_UNITS = [("", "as written"), ("ft", "feet"), ("in", "inches"), ("m", "metres"), ("mm", "millimetres")]
_KINDS = [("rack", "slot of the rack"), ("bin", "bin"), ("shelf", "shelf")]


class SlotForm(SlipForm):
    """A slot, bin or shelf of the shop's own."""

    code = Words(longest=20, label="Code", help_text="as on the label: A3", attrs={"autocapitalize": "characters"})
    name = Words(longest=60, label="Name", required=False)
    kind = forms.ChoiceField(label="is a", choices=_KINDS, initial="rack")


class LengthForm(SlipForm):
    """A length by the tape."""

    length = Words(longest=40, label="Length", help_text="19' 11 1/2\", 6.09 m")
    unit = forms.ChoiceField(label="A bare number is", choices=_UNITS, required=False)
    happened_at = Moment(label="Taped at", help_text="Empty: now.")


class PlaceForm(SlipForm):
    """Where to."""

    place = forms.ChoiceField(label="To", choices=[])
    happened_at = Moment(label="Moved at", help_text="Empty: now.")

    def __init__(self, *args: Any, leave_out: Place | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = rack.slots().filter(kind=Place.Kind.RACK)
        chosen = [(p.code, p.name) for p in places if leave_out is None or p.pk != leave_out.pk]
        self.fields["place"].choices = chosen  # type: ignore[attr-defined]


class ReasonForm(SlipForm):
    """Why."""

    reason = Words(longest=300, label="Why")
    happened_at = Moment(label="Seen at", help_text="Empty: now.")


class ScrapForm(ReasonForm):
    """Why, and whether it is scrap or cannot be found."""

    way = forms.ChoiceField(label="It is", choices=[("scrap", "scrap"), ("lost", "not found")], initial="scrap")


class HeatForm(SlipForm):
    """Which melt it really is."""

    heat_number = Words(longest=40, label="Mill heat number", help_text="as on the tag or the certificate")
    mill = Words(longest=80, label="Mill", required=False)
    reason = Words(longest=300, label="Why")

"""Forms of releases: what is kept and when it is sold, and orders pasted in line by line."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from orders.models import Release
from orders.services.ordering import MOST_PIECES
from orders.services.releases import LONGEST_NAME
from shop.flows.ordering import NewCustomer
from shop.flows.releasing import MOST_PASTED, Sold
from shop.shared import units
from shop.shared.errors import Invalid
from shop.staff.fields import Moment, SlipForm, Whole, Words
from shop.staff.item_field import ItemField

FORMAT = "name; e-mail; address; how many"
EXAMPLE = "R. Wold; wold@example.org; 4 Weir Row, Saltby; 1"
_LONGEST = 60_000
_LONGEST_NAME, _LONGEST_ADDRESS = 120, 600


class MomentsForm(SlipForm):
    """What a release is called, and from when until when it is sold."""

    name = Words(longest=LONGEST_NAME, label="Name")
    opens_at = Moment(label="Opens at", help_text="Empty: now.")
    closes_at = Moment(label="Closes at", help_text="Empty: when it is ended.")

    @staticmethod
    def typed_already(release: Release, zone: str) -> dict[str, str]:
        """Return what the fields say before anything is changed."""
        return {
            "name": release.name,
            "opens_at": _typed(release.opens_at, zone),
            "closes_at": _typed(release.closes_at, zone) if release.closes_at else "",
        }


class BeginForm(MomentsForm):
    """A new release."""

    item = ItemField(label="Item", required=True)
    qty = Whole(label="How many", most=MOST_PIECES)

    field_order = ("name", "item", "qty", "opens_at", "closes_at")


class PasteForm(SlipForm):
    """Orders out of a release, one a line."""

    pasted = Words(longest=_LONGEST, rows=10, label="Orders, one a line", help_text=f"{FORMAT}")

    def clean_pasted(self) -> list[Sold]:
        """Read every line; each that cannot be used gets its own sentence."""
        sold, wrong = [], []
        lines = [
            (number, line) for number, line in enumerate(self.cleaned_data["pasted"].split("\n"), 1) if line.strip()
        ]
        if len(lines) > MOST_PASTED:
            raise ValidationError(f"These are {len(lines)} lines; up to {MOST_PASTED} at once would work.")
        for number, line in lines:
            try:
                sold.append(_read(number, line))
            except Invalid as refusal:
                wrong.append(ValidationError(f"Line {number}: {refusal.sentence}"))
        if wrong:
            raise ValidationError(wrong)
        return sold


class EndForm(SlipForm):
    """Ending asks for nothing but the button."""

    end = forms.BooleanField(label="let the rest go to those who wait")


def _read(number: int, line: str) -> Sold:
    parts = [" ".join(part.split()) for part in line.split(";")]
    if len(parts) != 4:
        raise Invalid(f"{len(parts)} parts are written; four with semicolons between would work: {FORMAT}.")
    name, email, address, many = parts
    if not 1 <= len(name) <= _LONGEST_NAME:
        raise Invalid(
            f"The name is {'missing' if not name else 'too long'}; 1 to {_LONGEST_NAME} characters would work."
        )
    if email:
        try:
            validate_email(email)
        except ValidationError:
            raise Invalid("The second part is no e-mail address; name@example.org would work, or nothing.") from None
    if not 1 <= len(address) <= _LONGEST_ADDRESS:
        what = "missing" if not address else "too long"
        raise Invalid(f"The address is {what}; 1 to {_LONGEST_ADDRESS} characters would work.")
    qty = units.parse_whole(many, "how many", least=1, most=MOST_PIECES)
    return Sold(NewCustomer(name, email=email, address=address), qty, number)


def _typed(at: dt.datetime, zone: str) -> str:
    return at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%dT%H:%M")


def names(**more: str) -> dict[str, Any]:
    """Return which field of a form a refusal of the services means."""
    return {"lines.0.qty": "qty", "lines.0.item": "item", **more}

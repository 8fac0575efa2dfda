"""Fields that read what a hand types: whole numbers, money, weights, days and moments, each refused in plain words."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from shop.shared import units
from shop.shared.errors import Invalid
from shop.shared.models import Shop
from shop.shared.units.pieces import MOST_PIECES
from shop.staff.forms import ShopForm, speak_plainly

_SPACES = str.maketrans(dict.fromkeys("\u00a0\u2007\u2009\u202f", " "))  # as numbers are printed here and elsewhere
FIRST_DAY, LAST_DAY = dt.date(2000, 1, 1), dt.date(2199, 12, 31)


def _printable(text: str) -> str:
    """Refuse signs that no pen writes; a new line is one that a pen does."""
    if any(not sign.isprintable() and sign not in "\r\n\t" for sign in text):
        raise forms.ValidationError("This holds a sign that cannot be kept; type it again.")
    return text


class Words(forms.CharField):
    """A text of one line, or of several with `rows`."""

    def __init__(self, *, longest: int, rows: int = 0, attrs: dict[str, str] | None = None, **kwargs: Any) -> None:
        attrs = {"autocomplete": "off", **(attrs or {})}
        widget = forms.Textarea(attrs={"rows": rows, **attrs}) if rows else forms.TextInput(attrs=attrs)
        super().__init__(max_length=longest, widget=widget, **kwargs)

    def clean(self, value: Any) -> str:
        """Return the text, its line ends and its spaces made one kind."""
        return _printable(super().clean(value).translate(_SPACES)).replace("\r\n", "\n")


class Typed(forms.CharField):
    """The base of what is read by the unit parsers: up to forty characters, empty where it need not be filled in."""

    keyboard = "decimal"

    def __init__(self, **kwargs: Any) -> None:
        attrs = {"inputmode": self.keyboard, "autocomplete": "off"}
        super().__init__(max_length=40, widget=forms.TextInput(attrs=attrs), **kwargs)

    def clean(self, value: Any) -> Any:
        """Return what the parser reads, or nothing where nothing was typed."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.read(text)
        except Invalid as refusal:
            raise forms.ValidationError(refusal.sentence) from refusal

    def read(self, text: str) -> Any:
        """Read what was typed."""
        raise NotImplementedError


class Whole(Typed):
    """A whole number of pieces."""

    keyboard = "numeric"

    def __init__(self, *, least: int = 1, most: int = MOST_PIECES, **kwargs: Any) -> None:
        self.least, self.most = least, most
        super().__init__(**kwargs)

    def read(self, text: str) -> int:
        """Read a whole number inside its bounds."""
        return units.parse_whole(text, "number", least=self.least, most=self.most)


class Amount(Typed):
    """An amount of money, kept in the currency's smallest unit; the form says in which currency."""

    exponent = 2

    def read(self, text: str) -> int:
        """Read an amount."""
        return units.parse_money(text, self.exponent).minor


class Weight(Typed):
    """A weight with its unit; what was typed is kept beside it."""

    def read(self, text: str) -> units.Mass:
        """Read a weight."""
        return units.parse_mass(text)


class Length(Typed):
    """A length with its unit, in nm."""

    def read(self, text: str) -> int:
        """Read a length; nought is one here."""
        return units.parse_length(text, allow_zero=True).nm


class Day(forms.DateField):
    """A day of this age."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **kwargs)

    def clean(self, value: Any) -> dt.date | None:
        """Return a day that a shop can mean."""
        day: dt.date | None = super().clean(value)
        if day is not None and not FIRST_DAY <= day <= LAST_DAY:
            raise forms.ValidationError(
                f"This is no day a shop can mean; one from {FIRST_DAY} to {LAST_DAY} would work."
            )
        return day


class Moment(forms.CharField):
    """A moment on the shop's wall; empty means now. The form says in which zone the wall stands."""

    zone = "UTC"

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"})
        super().__init__(required=False, max_length=40, widget=widget, **kwargs)

    def clean(self, value: Any) -> dt.datetime | None:
        """Return the moment in UTC."""
        text = super().clean(value)
        if not text:
            return None
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError:
            raise forms.ValidationError("This is no moment; one written as 2026-12-17 10:42 would work.") from None
        if not FIRST_DAY <= moment.date() <= LAST_DAY:
            raise forms.ValidationError("This is no moment a shop can mean; write it as 2026-12-17 10:42.")
        return moment.replace(tzinfo=moment.tzinfo or ZoneInfo(self.zone)).astimezone(dt.UTC)


class SlipForm(ShopForm):
    """A form of the shop that knows its currency and its zone."""

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop = shop
        self.tune()

    def tune(self) -> None:
        """Tell the fields the currency, the zone and how to speak; called again where fields were added later."""
        exponent = units.money_exponent(self.shop.currency)
        for field in self.fields.values():
            speak_plainly(field)
            if isinstance(field, Amount):
                field.exponent = exponent
            if isinstance(field, Moment):
                field.zone = self.shop.zone


def typed_length(nm: int) -> str:
    """Return a length as a hand would type it, for a field that is filled in already."""
    return units.as_taped(nm).translate(_SPACES)


def typed_amount(minor: int | None, currency: str) -> str:
    """Return an amount as a hand would type it, for a field that is filled in already."""
    if minor is None:
        return ""
    return units.amount(minor, units.money_exponent(currency)).replace("\u2009", "").replace("\u2212", "-")

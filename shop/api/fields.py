"""How values look in the API: quantities, lengths and money as decimal text with their unit, moments in UTC."""

import datetime as dt
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from shop.api import reading
from shop.shared import units
from shop.shared.errors import Invalid

UNITS = {"piece": ("piece", 0), "nm": ("mm", 6), "mg": ("g", 3), "ul": ("mL", 3)}
"""The unit kept in the book: the unit of the API and the decimals between them."""

QUANTITY_PATTERN = r"^[0-9]{1,12}(\.[0-9]{1,6})?$"
MONEY_PATTERN = r"^-?[0-9]{1,15}(\.[0-9]{1,3})?$"


def quantity(raw: int, unit: str) -> str:
    """Return a quantity of the book as decimal text in the unit of the API."""
    places = UNITS[unit][1]
    return _decimal(raw, places, trim=True) if places else str(raw)


def unit_name(unit: str) -> str:
    """Return the unit of the API for a unit of the book."""
    return UNITS[unit][0]


def to_raw(text: str, unit: str, field: str) -> int:
    """Return decimal text in the unit of the API as a quantity of the book, or refuse the field."""
    name, places = UNITS[unit]
    scaled = Decimal(text).scaleb(places)
    if scaled != scaled.to_integral_value():
        what = "whole pieces" if places == 0 else f"at most {places} decimals of {name}"
        raise Invalid.field(field, f"This item is counted in {what}.")
    if not 1 <= scaled < 10**17:
        raise Invalid.field(field, "The quantity must be above nought and below what the book can hold.")
    return int(scaled)


def length(nm: int, typed: str = "") -> dict[str, str]:
    """Return a length three ways: exact millimetres, inches as the shop writes them, and as it was typed."""
    shown = {"mm": _decimal(nm, 6, trim=True), "inches": units.length_inches(nm)}
    return shown | ({"typed": typed} if typed else {})


def millimetres(nm: int) -> str:
    """Return a difference of lengths, which may be negative, as exact millimetres."""
    return _decimal(nm, 6, trim=True)


def mass(mg: int | None) -> dict[str, str] | None:
    """Return a mass in both systems; the grams are exact."""
    return None if mg is None else {"g": _decimal(mg, 3, trim=True), "pounds": units.mass_lb(mg)}


def money(minor: int | None, currency: str) -> dict[str, str] | None:
    """Return an amount as decimal text with its currency."""
    if minor is None:
        return None
    return {"amount": _decimal(minor, units.money_exponent(currency), trim=False), "currency": currency}


def moment(at: dt.datetime | None) -> str | None:
    """Return an instant in UTC, as RFC 3339 with Z."""
    if at is None:
        return None
    return (at if at.tzinfo is dt.UTC else at.astimezone(dt.UTC)).isoformat()[:-6] + "Z"


def day(date: dt.date | None) -> str | None:
    """Return a calendar day of the shop."""
    return None if date is None else date.isoformat()


def _decimal(raw: int, places: int, *, trim: bool) -> str:
    sign = "-" if raw < 0 else ""
    if places == 0:
        return f"{sign}{abs(raw)}"
    before, after = divmod(abs(raw), 10**places)
    digits = f"{after:0{places}d}"
    digits = digits.rstrip("0") if trim else digits
    return f"{sign}{before}.{digits}" if digits else f"{sign}{before}"


class Body(serializers.Serializer[Any]):
    """A request body: an object with the names it declares and no others; everything wrong is told at once."""

    default_error_messages = {"invalid": "This must be an object with names and values."}  # noqa: RUF012 - as declared

    def to_internal_value(self, data: Any) -> Any:
        """Read the fields after looking for names that are not declared."""
        if not isinstance(data, dict):
            raise serializers.ValidationError({"": ["This must be an object with names and values."]}, code="invalid")
        wrong: dict[str, Any] = {}
        for name in data:
            if name not in self.fields:
                near = reading.nearest(name, list(self.fields))
                hint = f"; the nearest is “{near}”" if near else f"; there are {', '.join(self.fields) or 'none'}"
                wrong[name] = serializers.ErrorDetail(f"There is no such name here{hint}.", code="unknown")
        try:
            values = super().to_internal_value(data)
        except serializers.ValidationError as problem:
            raise serializers.ValidationError({**wrong, **_mapping(problem.detail)}) from None
        if wrong:
            raise serializers.ValidationError(wrong)
        return values


def many(kind: Any, most: int, *, required: bool = True, least: int = 1) -> Any:
    """Return a list of bodies, at least one (or so many) and at most so many."""
    return kind(many=True, required=required, min_length=least, max_length=most)


class Text(serializers.CharField):
    """Text, and only text: no number is taken for one; no control characters."""

    def __init__(self, *, longest: int, lines: bool = False, **rest: Any) -> None:
        super().__init__(max_length=longest, trim_whitespace=True, **rest)
        self.lines = lines

    def to_internal_value(self, data: Any) -> str:
        """Return the text trimmed."""
        if not isinstance(data, str):
            raise serializers.ValidationError("This must be text.", code="type")
        allowed = "\n\r\t" if self.lines else ""
        if any((ord(letter) < 32 or ord(letter) == 127) and letter not in allowed for letter in data):
            raise serializers.ValidationError("This contains a control character; leave it out.", code="characters")
        return super().to_internal_value(data)


class Whole(serializers.IntegerField):
    """A whole number written as one in JSON."""

    def __init__(self, *, low: int, high: int, **rest: Any) -> None:
        super().__init__(min_value=low, max_value=high, **rest)

    def to_internal_value(self, data: Any) -> int:
        """Return the number; neither text nor true nor 1.5 is one."""
        # JSON Schema counts 2.0 among the whole numbers.
        if isinstance(data, Decimal) and data == data.to_integral_value():
            data = int(data)
        if not isinstance(data, int) or isinstance(data, bool):
            raise serializers.ValidationError("This must be a whole number.", code="type")
        return data


class YesNo(serializers.BooleanField):
    """true or false."""

    def to_internal_value(self, data: Any) -> bool:
        """Return it; no word and no number stands for either."""
        if not isinstance(data, bool):
            raise serializers.ValidationError("This must be true or false.", code="type")
        return data


class Word(serializers.ChoiceField):
    """One of a few words."""

    def to_internal_value(self, data: Any) -> str:
        """Return the word."""
        if not isinstance(data, str) or data not in self.choices:
            raise serializers.ValidationError(f"This must be one of {', '.join(self.choices)}.", code="choice")
        return data


@extend_schema_field({"type": "string", "pattern": QUANTITY_PATTERN, "examples": ["2", "3746.5"]})
class Quantity(serializers.Field):
    """A quantity as decimal text in the item's own unit, above nought where `none` is not said to be one too."""

    def __init__(self, *, none: bool = False, **rest: Any) -> None:
        super().__init__(**rest)
        self.none = none

    def to_internal_value(self, data: Any) -> str:
        """Return the text, once it is known to be a decimal number."""
        ok = isinstance(data, str) and data.isascii() and len(data) <= 19 and _is_decimal(data)
        if not ok or (Decimal(data) == 0 and not self.none):
            least = "of nought or more" if self.none else "above nought"
            raise serializers.ValidationError(
                f'This must be a quantity {least} as text, such as "2" or "3746.5".', code="quantity"
            )
        return str(data)

    def to_representation(self, value: Any) -> str:
        """Return it as it is."""
        return str(value)


@extend_schema_field({"type": "string", "pattern": r"^[0-9]{1,9}(\.[0-9]{1,3})?$", "examples": ["125.00"]})
class Money(serializers.Field):
    """An amount as decimal text in the shop's currency."""

    def to_internal_value(self, data: Any) -> str:
        """Return the text, once it is known to be a decimal number."""
        ok = isinstance(data, str) and data.isascii() and len(data) <= 13 and _is_decimal(data, 9, 3)
        if not ok:
            raise serializers.ValidationError('This must be an amount as text, such as "125.00".', code="money")
        return str(data)

    def to_representation(self, value: Any) -> str:
        """Return it as it is."""
        return str(value)


@extend_schema_field({"type": "string", "format": "date"})
class Day(serializers.Field):
    """A calendar day in the shop's zone."""

    def to_internal_value(self, data: Any) -> dt.date:
        """Return the day."""
        if not isinstance(data, str):
            raise serializers.ValidationError("This must be a day as text, such as 2026-03-01.", code="type")
        try:
            return reading.day(data, self.field_name or "day")
        except reading.BadValue as problem:
            raise serializers.ValidationError(str(problem), code="day") from None

    def to_representation(self, value: dt.date) -> str:
        """Return it as it is written."""
        return value.isoformat()


@extend_schema_field({"type": "string", "format": "date-time"})
class Moment(serializers.Field):
    """An instant with its offset."""

    def to_internal_value(self, data: Any) -> dt.datetime:
        """Return the instant in UTC."""
        if not isinstance(data, str):
            raise serializers.ValidationError(
                "This must be a moment as text, such as 2026-03-01T08:30:00Z.", code="type"
            )
        try:
            return reading.instant(data, self.field_name or "moment")
        except reading.BadValue as problem:
            raise serializers.ValidationError(str(problem), code="moment") from None

    def to_representation(self, value: dt.datetime) -> str | None:
        """Return it as it is written."""
        return moment(value)


def _is_decimal(text: str, most_before: int = 12, most_after: int = 6) -> bool:
    before, point, after = text.partition(".")
    if not (before.isdigit() and len(before) <= most_before):
        return False
    return not point or (after.isdigit() and len(after) <= most_after)


def _mapping(detail: Any) -> dict[str, Any]:
    return dict(detail) if isinstance(detail, dict) else {"": detail}

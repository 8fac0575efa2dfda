"""What stands in the API's addresses: codes, numbers, days. What a wrong one looks like never reaches the database."""

import datetime as dt

from django.urls import register_converter

from shop.api import reading


class Code:
    """The code of an item, a lot or a bar: what a wrong one looks like never reaches the database."""

    regex = r"[A-Z][A-Z0-9.\-]{0,29}"

    def to_python(self, value: str) -> str:
        """Return the code."""
        return value

    def to_url(self, value: str) -> str:
        """Return the code."""
        return value


class BarNumber(Code):
    """The number of a bar."""

    regex = r"[2-9A-HJ-NP-Z]{1,4}"


class Number:
    """A number that every database can look up."""

    regex = r"[1-9][0-9]{0,8}"

    def to_python(self, value: str) -> int:
        """Return the number."""
        return int(value)

    def to_url(self, value: int) -> str:
        """Return the number's digits."""
        return str(value)


class GradeCode(Code):
    """The code of a grade, as the book allows it."""

    regex = r"[A-Za-z0-9][A-Za-z0-9 ./+\-]{0,19}"


class GradeAlone(GradeCode):
    """The code of a grade at the end of an address; since it may have strokes in it, parts of a grade are told apart."""

    regex = r"(?!.*/(?:limits|density)(?:/|$))" + GradeCode.regex


class Day:
    """A calendar day."""

    regex = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> dt.date:
        """Return the day; what is none leads nowhere."""
        return reading.day(value, "day")

    def to_url(self, value: dt.date | str) -> str:
        """Return the day as it is written; what is no day has no address."""
        return str(dt.date.fromisoformat(value) if isinstance(value, str) else value)


class PlannedRun(Code):
    """The code of a run, or of one that is still to be started: its item, or an order's line in words, and a number."""

    regex = r"[A-Z0-9][A-Z0-9.\-]{0,33}(?:\+(?:shelf)?[0-9]{1,4})?"


def register() -> None:
    """Make them known by their names."""
    register_converter(Code, "api_code")
    register_converter(BarNumber, "api_bar")
    register_converter(GradeCode, "api_grade")
    register_converter(GradeAlone, "api_grade_alone")
    register_converter(PlannedRun, "api_planned")
    register_converter(Number, "api_number")
    register_converter(Day, "api_day")

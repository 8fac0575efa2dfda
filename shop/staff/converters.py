"""What may stand in an address: numbers and codes that the database can be asked for without a second look."""

from django.urls import path, register_converter

__all__ = ["BarNumber", "BookNumber", "Code", "Number", "RunCode", "path"]


class Number:
    """A number that fits every database's columns."""

    regex = "[1-9][0-9]{0,8}"

    def to_python(self, value: str) -> int:
        """Return the number."""
        return int(value)

    def to_url(self, value: int) -> str:
        """Return the number as it stands in the address."""
        return str(value)


class BookNumber(Number):
    """The number of a line or lot of the book, which may grow longer."""

    regex = "[1-9][0-9]{0,17}"


class Code:
    """An item's code, as the catalogue allows it."""

    regex = "[A-Z][A-Z0-9.-]{0,29}"

    def to_python(self, value: str) -> str:
        """Return the code."""
        return value

    def to_url(self, value: str) -> str:
        """Return the code as it stands in the address."""
        return value


class BarNumber(Code):
    """The number painted on a bar: up to four letters and figures that cannot be taken for one another."""

    regex = "[2-9A-HJ-NP-Z]{1,4}"


class RunCode(Code):
    """The code struck on the pieces of a run: a letter and up to three figures that cannot be mistaken."""

    regex = "[A-HJ-NP-Z][2-9]{1,3}"


register_converter(Number, "shopno")
register_converter(BookNumber, "bookno")
register_converter(Code, "itemcode")
register_converter(BarNumber, "barno")
register_converter(RunCode, "runcode")

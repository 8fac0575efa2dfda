"""Addresses of the API, version 1. Each name has a line in the table of scopes, or it is refused to everybody."""

from django.urls import path, re_path, register_converter
from django.urls.resolvers import URLPattern

from shop.api import docs, handlers, meta


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


register_converter(Code, "code")
register_converter(BarNumber, "bar")
register_converter(Number, "number")

app_name = "api"
described: list[URLPattern] = [
    path("me", meta.Me.as_view(), name="me"),
]
urlpatterns = [
    *described,
    path("openapi.json", docs.description, name="openapi"),
    path("docs", docs.page, name="docs"),
    path("docs.js", docs.script, name="docs_script"),
    re_path(r"^problems/(?P<code>[a-z0-9_]{1,60})$", handlers.explain, name="problem"),
]

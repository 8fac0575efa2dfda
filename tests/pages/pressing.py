"""A browser without script: reads the forms of a page, fills them in and sends them."""

import re
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser

from django.http import HttpResponse
from django.test import Client

ODD = (
    "",
    "   ",
    "\x00",
    "a\x00b",
    "\u202e\ufeff",
    "-1",
    "0",
    "1.5",
    "NaN",
    "99999999999999999999999999999999",
    "9" * 5000,
    "½",
    "12 lb",
    "<script>alert(1)</script>",
    "9999-12-31",
    "2026-02-30",
    "0001-01-01T00:00",
    "9999-12-31T23:59",
    "🔨" * 200,
)
"""What a sleeve, a paste or a stranger may leave in a field."""


@dataclass
class Form:
    """One form of a page: its method, where it goes, what stands in it."""

    method: str
    action: str
    fields: dict[str, str] = field(default_factory=dict)
    buttons: list[tuple[str, str]] = field(default_factory=list)

    @property
    def typed(self) -> list[str]:
        """Return the fields that somebody may type into."""
        return [name for name in self.fields if name not in ("csrfmiddlewaretoken", "request_key")]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._open: Form | None = None
        self._area = ""
        self._select = ""
        self._first = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        facts = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._open = Form(facts.get("method", "get").lower(), facts.get("action", ""))
            self.forms.append(self._open)
        elif self._open is not None:
            self._inside(tag, facts, set(dict(attrs)))

    def _inside(self, tag: str, facts: dict[str, str], names: set[str]) -> None:
        assert self._open is not None
        name = facts.get("name", "")
        if tag == "button" and name:
            self._open.buttons.append((name, facts.get("value", "")))
        elif tag == "textarea":
            self._area = name
            self._open.fields[name] = ""
        elif tag == "select":
            self._select, self._first = name, True
            self._open.fields[name] = ""
        elif tag == "option" and self._select and ("selected" in names or self._first):
            self._open.fields[self._select] = facts.get("value", "")
            self._first = False
        elif tag == "input" and name:
            kind = facts.get("type", "text")
            if kind not in ("checkbox", "radio") or "checked" in names:
                self._open.fields[name] = facts.get("value", "on" if kind == "checkbox" else "")
            elif kind == "radio":
                self._open.fields.setdefault(name, "")

    def handle_data(self, data: str) -> None:
        if self._area and self._open:
            self._open.fields[self._area] += data.removeprefix("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        elif tag == "textarea":
            self._area = ""
        elif tag == "select":
            self._select = ""


def forms(answer: HttpResponse) -> list[Form]:
    """Return the forms of a page that book something, in their order; the one that logs out is not among them."""
    reader = _Reader()
    reader.feed(answer.content.decode())
    return [form for form in reader.forms if form.method == "post" and form.action != "/logout"]


def press(client: Client, page: str, /, **typed: str) -> HttpResponse:
    """Open a page, fill in the first of its forms and send it."""
    form = forms(client.get(page))[0]
    return client.post(page, {**form.fields, **typed})


def text(answer: HttpResponse) -> str:
    """Return what a page says, without its markup."""
    body = answer.content.decode()
    body = body[body.index("<main") :] if "<main" in body else body
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)))


def follow(client: Client, answer: HttpResponse) -> HttpResponse:
    """Go where a booked form leads; the page says what was booked."""
    assert answer.status_code == 302, text(answer)
    return client.get(answer["Location"])

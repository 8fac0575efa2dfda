"""Booking from a page, once: the form's request key, one transaction around one call of the domain, then the next page.

A view does `posting.book(here, form, act)`. `act` gets who books and when, makes its one call and returns where to go
and the sentence that is said there. A refusal becomes the form's, what was typed stays and nothing is returned.
"""

import datetime as dt
import hashlib
import json
import re
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import cast

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.utils.datastructures import MultiValueDict

from inventory.queries import movements
from inventory.services.ledger import Stamp
from shop.access.actor import Actor
from shop.access.middleware import Here
from shop.shared import clock, once, transactions
from shop.shared.errors import Refusal
from shop.staff.forms import refuse, status_of

KEY = "request_key"
_KEY = re.compile(r"[0-9a-f]{32}")
_NOT_CONTENT = ("csrfmiddlewaretoken", KEY)
_SAID = "said"


@dataclass(frozen=True, slots=True)
class Doing:
    """Who books, and when."""

    at: dt.datetime
    by: Actor
    device: str

    def stamp(self, *, reason: str = "", happened_at: dt.datetime | None = None) -> Stamp:
        """Return the stamp of an entry."""
        return Stamp(at=self.at, by=self.by, happened_at=happened_at, device=self.device, reason=reason)


Act = Callable[[Doing], tuple[str, str]]


def here_of(request: HttpRequest) -> Here:
    """Return the request as one that has passed the door."""
    return cast(Here, request)


def sent(here: Here) -> tuple[QueryDict | None, MultiValueDict | None]:
    """Return what was typed and which files were sent, for a form's first two arguments."""
    return (here.POST, here.FILES) if here.method == "POST" else (None, None)


def doing(here: Here) -> Doing:
    """Return who is here, at this moment; the table of roles lets nobody come here without a name."""
    assert here.person is not None
    return Doing(clock.now(), Actor.of(here.person), here.tablet.name[:60] if here.tablet else "")


def book(
    here: Here, form: forms.BaseForm, act: Act, *, names: Mapping[str, str] | None = None
) -> HttpResponseRedirect | None:
    """Carry out one call of the domain for a form, once for its key; `names` maps a refusal's fields to the form's."""
    who = doing(here)

    def action() -> once.Answer:
        address, said = act(who)
        return once.Answer(303, said, {"Location": address})

    try:
        with transactions.entry_point():
            answer = once.run(
                client=f"page {who.by.label}",
                method="POST",
                path=here.path[:300],
                key=key(here),
                fingerprint=_fingerprint(here),
                at=who.at,
                action=action,
            )
    except once.KeyUsedForSomethingElse:
        here.key_spent = True  # type: ignore[attr-defined] # read by key()
        form.add_error(None, "This form was sent before with other figures. Look what was booked, then send it again.")
        return None
    except Refusal as refusal:
        refuse(form, _renamed(refusal, names or {}))
        return None
    here.session[_SAID] = answer.body
    return HttpResponseRedirect(answer.headers["Location"])


def key(here: Here) -> str:
    """Return the request key of the form that was sent, or a new one for a form to be printed."""
    sent = here.POST.get(KEY, "")
    if _KEY.fullmatch(sent) and not getattr(here, "key_spent", False):
        return sent
    return uuid.uuid4().hex


def sheet(
    here: Here, template: str, room: str, facts: Mapping[str, object], *, form: forms.BaseForm | None = None
) -> HttpResponse:
    """Print a page: the room it belongs to, what was just said, the form and its key, and the book's last line."""
    whole = {
        "room": room,
        "told": here.session.pop(_SAID, ""),
        "request_key": key(here),
        "book_line": movements.last_number() or None,
        "form": form,
        **facts,
    }
    return render(here, template, whole, status=status_of(form) if form is not None else 200)


def say(here: Here, sentence: str) -> None:
    """Let the next page begin with a sentence."""
    here.session[_SAID] = sentence


def not_there(here: Here) -> HttpResponse:
    """Answer an address that leads to nothing in this book."""
    return render(here, "404.html", status=404)


def _fingerprint(here: Here) -> str:
    content = sorted((name, here.POST.getlist(name)) for name in here.POST if name not in _NOT_CONTENT)
    content += sorted((name, [_digest(file) for file in here.FILES.getlist(name)]) for name in here.FILES)
    return hashlib.sha256(json.dumps(content).encode()).hexdigest()


def _digest(file: UploadedFile) -> str:
    file.seek(0)
    return hashlib.file_digest(file, "sha256").hexdigest()


def _renamed(refusal: Refusal, names: Mapping[str, str]) -> Refusal:
    if names and refusal.fields:
        refusal.fields = {names.get(name, name): sentence for name, sentence in refusal.fields.items()}
    return refusal

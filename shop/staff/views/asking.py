"""A page with one form on it: what is asked, the fields, one thing to do and the way back."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import HttpResponse

from shop.access.middleware import Here
from shop.staff import posting
from shop.staff.fields import SlipForm
from shop.staff.ruled import Ruled


@dataclass(frozen=True, slots=True)
class Ask:
    """What stands around the form: heading, sentence, the button's words, where the way back leads; `read` explains more."""

    title: str
    lead: str
    do: str
    back: str
    back_words: str
    room: str = "counter"
    part: str = "Write"
    table: Ruled | None = None
    hazard: str = ""
    caution: str = ""
    read: tuple[str, str] | None = None


def ask(
    here: Here,
    form: SlipForm,
    asked: Ask,
    act: posting.Act,
    *,
    names: Mapping[str, str] | None = None,
    facts: Mapping[str, object] | None = None,
) -> HttpResponse:
    """Print the page, or carry out what was asked and go on."""
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act, names=names)
        if done:
            return done
    return posting.sheet(here, "staff/counter/ask.html", asked.room, {"asked": asked, **(facts or {})}, form=form)

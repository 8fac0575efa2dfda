"""Coming in and leaving: the log-in, the name tiles, the owner's first link, one's own password."""

import datetime as dt
import logging
from typing import cast

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.middleware.csrf import rotate_token
from django.shortcuts import render
from django.urls import reverse

from shop.access import sessions
from shop.access.middleware import Here
from shop.access.models import Person
from shop.access.services import coming_in, links, passwords, people, tablets, tries
from shop.shared import clock, units
from shop.shared.errors import Invalid, Refusal
from shop.shared.models import Shop
from shop.shared.transactions import entry_point
from shop.staff.forms import ShopForm, attempt, refuse, status_of, typed_in
from shop.staff.views import going
from shop.staff.views.access_forms import LogInForm, OwnPasswordForm, StartForm

_log = logging.getLogger("shop.access")
_COOKIE_LASTS = dt.timedelta(days=400)


def login(request: HttpRequest) -> HttpResponse:
    """Ask for log-in and password; afterwards the session has the person's real role."""
    here = cast(Here, request)
    if here.method == "POST":
        form = LogInForm(here.POST)
        person = _with_password(here, form, form.cleaned_data["login"]) if form.is_valid() else None
        if person:
            _begin(here, person)
            return going.on(here)
    else:
        form = LogInForm(initial={"login": here.person.login if here.person else ""})
    facts = {"form": form, "next": going.wanted(here)}
    return render(here, "staff/access/login.html", facts, status=status_of(form))


def logout(request: HttpRequest) -> HttpResponse:
    """End the session in the database too, and show the tiles on a tablet, the log-in elsewhere."""
    here = cast(Here, request)
    here.session.flush()
    rotate_token(here)
    return HttpResponseRedirect(reverse("staff:here" if here.tablet else "staff:login"))


def tiles(request: HttpRequest) -> HttpResponse:
    """Ask who is at the tablet; a touch makes that person a hand until somebody else touches or leaves."""
    here = cast(Here, request)
    form = ShopForm(typed_in(here))
    if here.method == "POST" and here.tablet and _touched(here, form):
        return _keep_cookie(here, going.on(here))
    facts = {"people": tablets.tiles() if here.tablet else [], "next": going.wanted(here), "form": form}
    status = 403 if here.method == "POST" and not here.tablet else status_of(form)
    return render(here, "staff/access/here.html", facts, status=status)


def start(request: HttpRequest, token: str) -> HttpResponse:
    """Make the owner of an empty shop, once."""
    here = cast(Here, request)
    has_shop = Shop.objects.filter(pk=1).exists()
    try:
        links.look_at(token, at=clock.now())
    except Refusal as gone:
        return _unlogged(render(here, "staff/access/link_gone.html", {"sentence": gone.sentence}, status=gone.status))
    form = StartForm(typed_in(here), has_shop=has_shop)
    if here.method == "POST" and form.is_valid():
        owner = _make_owner(form, token)
        if owner:
            _begin(here, owner)
            return HttpResponseRedirect(going.HOME)
    return _unlogged(render(here, "staff/access/start.html", {"form": form}, status=status_of(form)))


def own_password(request: HttpRequest) -> HttpResponse:
    """Change one's own password, knowing the old one; other sessions of that person end."""
    here = cast(Here, request)
    form = OwnPasswordForm(typed_in(here))
    if here.method == "POST" and form.is_valid() and here.person:
        person = _with_password(here, form, here.person.login)
        kept = _prepared(form, form.cleaned_data["new"], person) if person else None
        if person and kept:
            attempt(form, lambda: people.set_password(person, kept, at=clock.now(), by=person))
            _begin(here, people.find(person.pk))
            return HttpResponseRedirect(going.HOME)
    return render(here, "staff/access/own_password.html", {"form": form}, status=status_of(form))


def _with_password(here: Here, form: ShopForm, login: str) -> Person | None:
    """Return who this is where the password fits; else the form says why not.

    Three steps and not one transaction: hashing takes long on purpose, and a transaction around it would keep every
    other writer waiting. The try is counted before the password is looked at.
    """
    at, address = clock.now(), here.META.get("REMOTE_ADDR", "")
    attempt(form, lambda: tries.take(login, address, at=at))
    if form.errors:
        _log.warning("too many tries for %r from %r", login, address)
        return None
    person = coming_in.with_login(login)
    right = passwords.fits(person, form.cleaned_data["password"])
    if person is None or not right:
        _log.warning("wrong log-in or password for %r from %r", login, address)
        form.add_error("password", "Log-in and password do not fit together; type both again.")
        return None
    with entry_point():
        coming_in.came_in(person, address=address, tablet=here.tablet, at=at)
    return person


def _touched(here: Here, form: ShopForm) -> bool:
    """Let the person of the touched tile be at the tablet; where there is none of that name, the form says so."""
    touched, tablet, at = here.POST.get("who", ""), here.tablet, clock.now()
    if tablet is None:
        return False

    def touch() -> Person:
        person = tablets.tile(units.plain_number(touched) or 0)
        coming_in.touched(person, tablet, at=at)
        return person

    person = attempt(form, touch)
    if person:
        sessions.begin_tile(here.session, person, tablet, at=at)
        rotate_token(here)
    return person is not None


def _begin(here: Here, person: Person) -> None:
    sessions.begin_full(here.session, person, at=clock.now())
    rotate_token(here)


def _make_owner(form: StartForm, token: str) -> Person | None:
    typed = form.cleaned_data
    try:
        kept = passwords.prepare(typed["password"], login=typed["login"], name=typed["name"])
    except Invalid as refusal:
        refuse(form, refusal)
        return None
    new = links.NewOwner(
        name=typed["name"],
        login=typed["login"],
        password_kept=kept,
        shop_name=typed.get("shop_name", ""),
        zone=typed.get("zone", "UTC"),
    )
    return attempt(form, lambda: links.make_owner(token, new, at=clock.now()))


def _prepared(form: ShopForm, password: str, person: Person) -> str | None:
    try:
        return passwords.prepare(password, login=person.login, name=person.name)
    except Invalid as refusal:
        form.add_error("new", refusal.sentence.removeprefix("Password: ").capitalize())
        return None


def keep_tablet_cookie(response: HttpResponse, token: str) -> HttpResponse:
    """Give a device the cookie that makes it an enrolled tablet."""
    response.set_cookie(
        settings.TABLET_COOKIE_NAME,
        token,
        max_age=_COOKIE_LASTS,
        secure=settings.BEHIND_TLS,
        httponly=True,
        samesite="Lax",
    )
    return response


def _keep_cookie(here: Here, response: HttpResponse) -> HttpResponse:
    """Renew the tablet's cookie: browsers forget one after 400 days."""
    return keep_tablet_cookie(response, here.COOKIES[settings.TABLET_COOKIE_NAME])


def _unlogged(response: HttpResponse) -> HttpResponse:
    """Keep an address that holds a secret out of the log of refused requests."""
    response._has_been_logged = True  # type: ignore[attr-defined]  # noqa: SLF001 - Django's own mark
    return response

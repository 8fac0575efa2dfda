"""The owner's desk: people, tablets, keys, links and the shop's settings."""

import datetime as dt
from collections.abc import Callable
from typing import cast

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse

from shop.access.middleware import Here
from shop.access.models import ApiKey, FeedLink, Person, Tablet
from shop.access.roles import SCOPES
from shop.access.services import feeds, keys, passwords, people, tablets
from shop.access.services.feeds import Sheet
from shop.flows import changing_settings
from shop.shared import clock, shop_row, shop_settings, units
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import Shop
from shop.shared.transactions import entry_point
from shop.staff.forms import ShopForm, attempt, refuse, status_of, typed_in
from shop.staff.views import access_forms as forms
from shop.staff.views.access import keep_tablet_cookie

_AS_TYPED = (
    "opens_at", "closes_at", "production_percent", "carrier_by", "oven_alone", "sure_one_off", "sure_dealer", "slips_below",
)  # fmt: skip


def people_list(request: HttpRequest) -> HttpResponse:
    """Show everybody, and make somebody."""
    form = forms.NewPersonForm(typed_in(request))
    if request.method == "POST" and form.is_valid() and _make_person(_owner(request), form):
        return _back("staff:people")
    facts = {"form": form, "people": Person.objects.order_by("-is_active", "name", "id")}
    return render(request, "staff/access/people.html", facts, status=status_of(form))


def person(request: HttpRequest, person_id: int) -> HttpResponse:
    """Change somebody's name, role and tile, or let them go."""
    somebody = Person.objects.filter(pk=person_id).first()
    if somebody is None:
        return render(request, "404.html", status=404)
    form = forms.ChangePersonForm(typed_in(request), initial=vars(somebody))
    if request.method == "POST" and form.is_valid():
        particulars = people.Particulars(**form.cleaned_data)
        by = _owner(request)
        if attempt(form, lambda: people.change(somebody, particulars, at=clock.now(), by=by)):
            return _back("staff:people")
    facts = {"somebody": somebody, "form": form, "password_form": forms.PasswordForm()}
    return render(request, "staff/access/person.html", facts, status=status_of(form))


def person_password(request: HttpRequest, person_id: int) -> HttpResponse:
    """Set somebody's password."""
    somebody = Person.objects.filter(pk=person_id).first()
    if somebody is None:
        return render(request, "404.html", status=404)
    form, by = forms.PasswordForm(request.POST), _owner(request)
    if form.is_valid():
        kept = _prepared(form, login=somebody.login, name=somebody.name)
        if kept:
            attempt(form, lambda: people.set_password(somebody, kept, at=clock.now(), by=by))
        if not form.errors:
            return _back("staff:people")
    facts = {"somebody": somebody, "form": forms.ChangePersonForm(initial=vars(somebody)), "password_form": form}
    return render(request, "staff/access/person.html", facts, status=status_of(form))


def tablet_list(request: HttpRequest) -> HttpResponse:
    """Show the tablets, and enrol the device in hand: it becomes a tablet and the owner's session on it ends."""
    here, form = cast(Here, request), forms.TabletForm(typed_in(request))
    if request.method == "POST" and form.is_valid():
        name, by = form.cleaned_data["name"], _owner(request)
        enrolled = attempt(form, lambda: tablets.enrol(name, at=clock.now(), by=by))
        if enrolled:
            here.session.flush()
            return keep_tablet_cookie(_back("staff:here"), enrolled[1])
    facts = {"form": form, "tablets": Tablet.objects.select_related("enrolled_by").order_by("id")}
    return render(request, "staff/access/tablets.html", facts, status=status_of(form))


def tablet_revoke(request: HttpRequest, tablet_id: int) -> HttpResponse:
    """Revoke a tablet."""
    by = _owner(request)
    return _revoke(request, "staff:tablets", lambda: tablets.revoke(tablet_id, at=clock.now(), by=by))


def key_list(request: HttpRequest) -> HttpResponse:
    """Show the keys of programs, and make one; its text is on the answer to this one request only."""
    form, text = forms.KeyForm(typed_in(request)), ""
    if request.method == "POST" and form.is_valid():
        typed, at, by = form.cleaned_data, clock.now(), _owner(request)
        ends = _end_of(typed["expires_at"])
        made = attempt(
            form, lambda: keys.make(name=typed["name"], scopes=typed["scopes"], at=at, by=by, expires_at=ends)
        )
        if made:
            form, text = forms.KeyForm(), made[1]
    listed = [(key, [SCOPES.get(scope, scope) for scope in key.scopes]) for key in ApiKey.objects.order_by("id")]
    facts = {"form": form, "keys": listed, "text": text, "at": clock.now()}
    return render(request, "staff/access/keys.html", facts, status=status_of(form))


def key_revoke(request: HttpRequest, key_id: int) -> HttpResponse:
    """Revoke a key."""
    by = _owner(request)
    return _revoke(request, "staff:keys", lambda: keys.revoke(key_id, at=clock.now(), by=by))


def link_list(request: HttpRequest) -> HttpResponse:
    """Show the links of spreadsheets and calendars, and make one; its address is on the answer to this one request only."""
    form, address = forms.LinkForm(typed_in(request)), ""
    if request.method == "POST" and form.is_valid():
        typed, at, by = form.cleaned_data, clock.now(), _owner(request)
        ends = _end_of(typed["expires_at"])
        sheet = Sheet(typed["sheet"] or Sheet.TABLE)
        made = attempt(form, lambda: feeds.make(name=typed["name"], at=at, by=by, expires_at=ends or at, sheet=sheet))
        if made:
            form, address = forms.LinkForm(), feeds.address(*made)
    listed = [(link, feeds.sheet_of(link) is Sheet.CALENDAR) for link in FeedLink.objects.order_by("id")]
    facts = {"form": form, "links": listed, "address": address, "at": clock.now()}
    return render(request, "staff/access/links.html", facts, status=status_of(form))


def link_revoke(request: HttpRequest, link_id: int) -> HttpResponse:
    """Revoke a link."""
    by = _owner(request)
    return _revoke(request, "staff:links", lambda: feeds.revoke(link_id, at=clock.now(), by=by))


def settings(request: HttpRequest) -> HttpResponse:
    """Change the shop's name, its clock and hours, its hour of mail, and who gets the night's e-mail."""
    shop = Shop.objects.filter(pk=1).first()
    if shop is None:
        return render(request, "404.html", status=404)
    form = forms.SettingsForm(typed_in(request), initial=_settings_typed(shop))
    if request.method == "POST" and form.is_valid():
        by = _owner(request)
        if attempt(form, lambda: _change_settings(form, by)):
            return _back("staff:settings")
    return render(request, "staff/access/settings.html", {"form": form}, status=status_of(form))


def _make_person(by: Person, form: forms.NewPersonForm) -> Person | None:
    typed = form.cleaned_data
    kept = None
    if typed["password"]:
        kept = _prepared(form, login=typed["login"], name=typed["name"])
        if kept is None:
            return None
    particulars = people.Particulars(typed["name"], typed["role"], on_tablet=typed["on_tablet"])
    return attempt(
        form,
        lambda: people.make(login=typed["login"], particulars=particulars, password_kept=kept, at=clock.now(), by=by),
    )


def _prepared(form: ShopForm, *, login: str, name: str) -> str | None:
    """Return what is kept of a typed password; hashing takes long on purpose and stays outside every transaction."""
    try:
        return passwords.prepare(form.cleaned_data["password"], login=login, name=name)
    except Invalid as refusal:
        refuse(form, refusal)
        return None


def _change_settings(form: forms.SettingsForm, by: Person) -> Shop:
    typed, at = form.cleaned_data, clock.now()
    wanted = shop_settings.Settings(
        **{name: typed[name] for name in ("name", "address", "phone", "email")},
        zone=typed["zone"],
        currency=typed["currency"].upper(),
        night_hour=typed["night_hour"],
        quiet_days=tuple(int(day) for day in typed["quiet_days"]),
        open_days=tuple(int(day) for day in typed["open_days"]),
        carrier_days=tuple(int(day) for day in typed["carrier_days"]),
        **{name: typed[name] for name in _AS_TYPED},
        hold_minutes=typed["hold_minutes"],
        kerf_nm=typed["kerf"],
        scale_step_mg=typed["scale_step"].mg,
        tape_error_nm=typed["tape_error"],
        saw_before_certificate=typed["saw_before_certificate"],
    )
    return changing_settings.change(wanted, recipients=typed["recipients"], at=at, by=by.login)


def _settings_typed(shop: Shop) -> dict[str, object]:
    lines = [f"{one.name} <{one.email}>" if one.name else one.email for one in shop_row.active_recipients()]
    kept = shop_settings.settings_of(shop)
    days = {name: [str(day) for day in getattr(kept, name)] for name in ("quiet_days", "open_days", "carrier_days")}
    measures = {
        "kerf": _length_typed(shop.kerf_nm),
        "tape_error": _length_typed(shop.tape_error_nm),
        "scale_step": _mass_typed(shop.scale_step_mg),
    }
    return {**vars(shop), **measures, **days, "recipients": "\n".join(lines)}


def _length_typed(nm: int) -> str:
    """Write a length so that reading it gives the same: whole sixty-fourths in inches, all else in millimetres."""
    whole = nm % units.NM_PER_SIXTY_FOURTH == 0
    return (
        units.length_inches(nm, feet=False) if whole else f"{nm / units.NM_PER_MM:.6f}".rstrip("0").rstrip(".") + " mm"
    )


def _mass_typed(mg: int) -> str:
    """Write a weight so that reading it gives the same."""
    return f"{mg / units.MG_PER_KG:g} kg" if mg % 1000 == 0 else units.mass_lb(mg)


def _end_of(day: dt.date | None) -> dt.datetime | None:
    """Return the moment at which a day of the shop ends."""
    shop = Shop.objects.filter(pk=1).first()
    return clock.at_local(day + dt.timedelta(days=1), 0, shop.zone if shop else "UTC") if day else None


def _revoke(request: HttpRequest, page: str, revoke: Callable[[], None]) -> HttpResponse:
    try:
        with entry_point():
            revoke()
    except NotFound:
        return render(request, "404.html", status=404)
    return _back(page)


def _owner(request: HttpRequest) -> Person:
    person = cast(Here, request).person
    assert person is not None, "the table of roles lets only owners come here"
    return person


def _back(page: str) -> HttpResponseRedirect:
    return HttpResponseRedirect(reverse(page))

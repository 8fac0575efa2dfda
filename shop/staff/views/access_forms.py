"""Forms of coming in and of the owner's desk."""

import datetime as dt
from email.utils import getaddresses, parseaddr
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from shop.access.roles import SCOPES
from shop.access.services.feeds import Sheet
from shop.staff.fields import Length, Weight, Words
from shop.staff.forms import ShopForm

# Far enough from the ends of the calendar that a day has a day after it in every zone.
_FIRST_DAY, _LAST_DAY = dt.date(2000, 1, 1), dt.date(2999, 12, 31)
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_ROLES = [
    ("hand", "hand: counts, receives, sends"),
    ("desk", "desk: also orders, prices, customers"),
    ("owner", "owner: everything"),
]


def _old_password() -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "current-password"})
    return forms.CharField(label="Password", strip=False, max_length=1000, widget=widget)


def _new_password(label: str = "Password", *, required: bool = True, hint: str = "") -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "new-password"})
    hint = hint or "10 characters or more; several words are easy to remember."
    return forms.CharField(label=label, strip=False, max_length=1000, widget=widget, required=required, help_text=hint)


def _login() -> forms.CharField:
    plain = {"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
    return forms.CharField(label="Log-in", max_length=200, widget=forms.TextInput(attrs=plain))


def _zone() -> forms.ChoiceField:
    zones = sorted(zone for zone in available_timezones() if "/" in zone or zone == "UTC")
    return forms.ChoiceField(label="Zone", choices=[(zone, zone.replace("_", " ")) for zone in zones], initial="UTC")


def _day_field(label: str, *, required: bool, hint: str) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(
        label=label,
        required=required,
        widget=widget,
        help_text=hint,
        input_formats=["%Y-%m-%d"],
        validators=[MinValueValidator(_FIRST_DAY), MaxValueValidator(_LAST_DAY)],
    )


def _days_field(label: str, *, required: bool) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label,
        required=required,
        choices=[(str(number), name) for number, name in enumerate(_DAYS)],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "No day is ticked; one day or more would work."},
    )


def _time_field(label: str, *, hint: str) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"autocomplete": "off"}, format="%H:%M")
    return forms.TimeField(label=label, input_formats=["%H:%M"], widget=widget, help_text=hint)


def _of_hundred(label: str, *, least: int, hint: str) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=least, max_value=99, help_text=hint)


class LogInForm(ShopForm):
    login = _login()
    password = _old_password()


class OwnPasswordForm(ShopForm):
    password = _old_password()
    new = _new_password("New password")


class StartForm(ShopForm):
    shop_name = forms.CharField(label="Name of the shop", max_length=120)
    zone = _zone()
    name = forms.CharField(label="Name", max_length=60, help_text="As everybody says it in the shop.")
    login = _login()
    password = _new_password()

    def __init__(self, *args: Any, has_shop: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if has_shop:
            del self.fields["shop_name"], self.fields["zone"]


class PersonForm(ShopForm):
    name = forms.CharField(label="Name", max_length=60, help_text="As everybody says it in the shop.")
    role = forms.ChoiceField(label="Role", choices=_ROLES, widget=forms.RadioSelect, initial="hand")
    on_tablet = forms.BooleanField(label="has a name tile on the tablets", required=False, initial=True)


class NewPersonForm(PersonForm):
    login = _login()
    password = _new_password(
        required=False, hint="10 characters or more. Without one the person is only a name tile, as a hand."
    )
    field_order = ("name", "login", "role", "password", "on_tablet")


class ChangePersonForm(PersonForm):
    is_active = forms.BooleanField(label="may come in", required=False)


class PasswordForm(ShopForm):
    password = _new_password("Password")


class TabletForm(ShopForm):
    name = forms.CharField(label="Name", max_length=60, help_text="Where the tablet hangs: by the hammer, at the door.")


class KeyForm(ShopForm):
    name = forms.CharField(label="Name", max_length=80, help_text="Which program uses the key.")
    scopes = forms.MultipleChoiceField(
        label="May", choices=[(scope, words) for scope, words in SCOPES.items()], widget=forms.CheckboxSelectMultiple
    )
    expires_at = _day_field("Ends", required=False, hint="Last day it works; nothing here lets it work until revoked.")


_SHEETS = [(Sheet.TABLE, "what can be promised, for a spreadsheet"), (Sheet.CALENDAR, "days given, for a calendar")]


class LinkForm(ShopForm):
    name = forms.CharField(label="Name", max_length=80, help_text="Which sheet or calendar uses the link.")
    sheet = forms.ChoiceField(
        label="Gives", choices=_SHEETS, widget=forms.RadioSelect, initial=Sheet.TABLE, required=False
    )
    expires_at = _day_field("Ends", required=True, hint="Last day it works, at most 400 days from now.")


class SettingsForm(ShopForm):
    name = forms.CharField(label="Name", max_length=120)
    address = Words(
        longest=300,
        rows=4,
        label="Address",
        required=False,
        help_text="Where goods are brought to; on papers and letters.",
    )
    phone = Words(longest=40, label="Phone", required=False)
    email = Words(longest=254, label="E-mail", required=False, help_text="Where answers to the shop’s letters go.")
    zone = _zone()
    currency = forms.CharField(label="Currency", max_length=3, help_text="Three capital letters, such as EUR or USD.")
    night_hour = forms.IntegerField(
        label="Night hour", min_value=0, max_value=23, help_text="Full hour of the night's check and its e-mail."
    )
    quiet_days = _days_field("Days without mail", required=False)
    opens_at = _time_field("Opens at", hint="As 8:00, on the shop's own wall.")
    closes_at = _time_field("Closes at", hint="As 17:00; 23:59 for midnight. Hardened heads are in the temper by then.")
    open_days = _days_field("Open on", required=True)
    production_percent = forms.IntegerField(
        label="Share of production",
        min_value=5,
        max_value=100,
        help_text="Of 100 minutes of an open day, how many go into pieces: 65 is usual.",
    )
    oven_alone = forms.BooleanField(label="A load in the oven may run on after closing", required=False)
    carrier_by = _time_field("Carrier comes by", hint="What is packed by then goes the same day.")
    carrier_days = _days_field("Carrier comes on", required=True)
    sure_one_off = _of_hundred(
        "One-off customers", least=50, hint="Their day is one that is kept so many times in 100: 50 to 99."
    )
    sure_dealer = _of_hundred("Dealers", least=50, hint="So many times in 100: 50 to 99.")
    slips_below = _of_hundred(
        "Slips below", least=1, hint="A day given slips once it is kept fewer times in 100 than this."
    )
    hold_minutes = forms.IntegerField(
        label="Hold", min_value=1, max_value=1440, help_text="Minutes that a hold lasts when nobody says otherwise."
    )
    kerf = Length(label="Kerf", help_text="What one cut of your saw takes, measured: 1/16 in, 1.6 mm.")
    scale_step = Weight(label="Steel scale shows", help_text="Its step: 1 lb, 0.5 kg.")
    tape_error = Length(label="Tape may be off", help_text="How far one taped length may be off: 1/16 in, 2 mm.")
    saw_before_certificate = forms.BooleanField(label="Saw while the certificate is awaited", required=False)
    recipients = forms.CharField(
        label="Recipients",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Who gets the night's e-mail, one a line: Name <name@example.org>.",
    )

    def clean_recipients(self) -> list[tuple[str, str]]:
        """Return (name, address) of each line."""
        found = []
        for line in self.cleaned_data["recipients"].splitlines():
            if line.strip():
                name, address = parseaddr(line.strip())
                if len(getaddresses([line])) > 1 or "@" not in address or len(name) > 120 or len(address) > 254:
                    raise forms.ValidationError(
                        f"{line.strip()[:60]!r} is no e-mail address; Name <name@example.org> would work."
                    )
                found.append((name, address))
        return found

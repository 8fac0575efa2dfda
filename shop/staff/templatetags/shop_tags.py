"""How pages print figures, days and fields. No filter is called `length`: it would hide Django's own."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import segno
from django import forms, template
from django.forms.boundfield import BoundField
from django.template.context import Context
from django.utils import timezone
from django.utils.dateformat import format as written
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from shop.shared import units
from shop.staff import rooms
from shop.staff.ruled import Ruled

register = template.Library()

_THIN, _THIN_UNBROKEN, _UNBROKEN = "\u2009", "\u202f", "\u00a0"
_MIXED = re.compile(r"(\d) (\d+/\d+)(?!\d|/)")


@register.filter
def fractions(text: object) -> SafeString:
    """Print the fraction of a mixed number (3 5/8) a little smaller, and never part a number from its groups."""
    safe = escape(text).replace(_THIN, _THIN_UNBROKEN)
    return mark_safe(_MIXED.sub(rf'\1{_UNBROKEN}<span class="fr">\2</span>', safe))  # noqa: S308 - escaped above


def _whole(text: str) -> SafeString:
    """Print one measure so that it stays on one line."""
    return format_html('<span class="nb">{}</span>', fractions(text))


def _pair(first: str, second: str) -> SafeString:
    return format_html("{} ({})", _whole(first), _whole(second))


@register.filter
def both(nm: int | None) -> SafeString | str:
    """Print a length in nanometres in both systems: 20 ft 1 1/2 in (6 134.1 mm)."""
    if nm is None:
        return ""
    pair = units.length_inches(nm), units.length_mm(nm)
    return _pair(*(pair[::-1] if nm % units.NM_PER_SIXTY_FOURTH else pair))


@register.filter
def inches(nm: int | None) -> SafeString | str:
    """Print a length in nanometres in feet and inches: 13 ft 6 3/4 in."""
    return "" if nm is None else _whole(units.length_inches(nm))


@register.filter
def taped(nm: int | None) -> SafeString | str:
    """Print a length as the tape gave it: inches where exact, else millimetres."""
    return "" if nm is None else _whole(units.as_taped(nm))


@register.filter
def only_inches(nm: int | None) -> SafeString | str:
    """Print a length in nanometres in inches alone, as sections and stops are named: 13 1/2 in."""
    return "" if nm is None else _whole(units.length_inches(nm, feet=False))


@register.filter
def mm(nm: int | None) -> SafeString | str:
    """Print a length in nanometres in millimetres: 6 134.1 mm."""
    return "" if nm is None else _whole(units.length_mm(nm))


@register.filter
def mass(mg: int | None) -> SafeString | str:
    """Print a mass in milligrams in both systems: 133 lb (60.33 kg)."""
    return "" if mg is None else _pair(units.mass_lb(mg), units.mass_kg(mg))


@register.filter
def pounds(mg: int | None) -> SafeString | str:
    """Print a mass in milligrams in pounds."""
    return "" if mg is None else _whole(units.mass_lb(mg))


@register.filter
def volume(ul: int | None) -> SafeString | str:
    """Print a volume in microlitres in both systems."""
    return "" if ul is None else fractions(units.volume(ul))


@register.filter
def money(minor: int | None, currency: str) -> SafeString | str:
    """Print an amount in the currency's smallest unit: {{ price|money:shop.currency }} gives 1 234.50 USD."""
    return "" if minor is None else _whole(units.money(minor, currency))


@register.filter
def figures(number: int | None) -> str:
    """Print a whole number in groups of three: 18 204."""
    return "" if number is None else f"{number:,}".replace(",", _THIN_UNBROKEN)


@register.filter
def tenths(number: int | None) -> str:
    """Print a figure kept in tenths: 530 gives 53, 535 gives 53.5."""
    return "" if number is None else f"{number / 10:g}"


def _local(value: dt.date | dt.datetime, zone: str) -> dt.date | dt.datetime:
    if not isinstance(value, dt.datetime):
        return value
    return value.astimezone(ZoneInfo(zone) if zone else timezone.get_current_timezone())


@register.filter
def day(value: dt.date | dt.datetime | None, zone: str = "") -> str:
    """Print a day, or the shop's day of a moment: Thu 17 Dec."""
    return "" if value is None else written(_local(value, zone), "D j M").replace(" ", _UNBROKEN)


@register.filter
def stamp_day(value: dt.date | dt.datetime | None, zone: str = "") -> str:
    """Print a day as it stands on a stamp: 3 Mar."""
    return "" if value is None else written(_local(value, zone), "j M").replace(" ", _UNBROKEN)


@register.filter
def full_day(value: dt.date | dt.datetime | None, zone: str = "") -> str:
    """Print a day with its year, for paper that is kept: Wednesday 25 November 2026."""
    return "" if value is None else written(_local(value, zone), "l j F Y")


@register.filter
def moment(at: dt.datetime | None, zone: str = "") -> str:
    """Print an instant on the shop's wall: Wed 25 Nov, 10:42."""
    return "" if at is None else written(_local(at, zone), "D j M, H:i").replace(" ", _UNBROKEN)


@register.filter
def hour(at: dt.datetime | None, zone: str = "") -> str:
    """Print the time of an instant on the shop's wall: 10:42."""
    return "" if at is None else written(_local(at, zone), "H:i")


@register.simple_tag(takes_context=True)
def walk(context: Context) -> rooms.Walk:
    """Return the wall as seen from the page's room."""
    return rooms.walk(str(context.get("room", "")))


@register.inclusion_tag("staff/parts/ruled.html")
def ruled(table: Ruled) -> dict[str, object]:
    """Print a ruled table that stacks on a phone."""
    return {"table": table}


@register.inclusion_tag("staff/parts/field.html")
def field(bound: BoundField, label: str = "", hint: str = "", echo: str = "", also: str = "") -> dict[str, object]:
    """Print a form's field with label, help, echo and refusal, each tied to the input by its id.

    `also` is a further class of the part: `whole` in .fields.
    """
    said = " ".join(map(str, bound.errors))
    hint = hint or str(bound.help_text)
    own = bound.auto_id
    tied = [f"{own}_{name}" for name, there in (("say", said), ("hint", hint), ("echo", echo)) if there]
    attrs: dict[str, str | bool] = {"aria-describedby": " ".join(tied)} if tied else {}
    if said:
        attrs["aria-invalid"] = "true"
    widget = bound.field.widget
    choices = isinstance(widget, forms.RadioSelect)
    return {
        "id": own,
        "label": label or bound.label,
        "hint": hint,
        "echo": echo,
        "also": also,
        "said": said,
        "described": attrs.get("aria-describedby", ""),
        "hidden": bound.is_hidden,
        "tick": isinstance(widget, forms.CheckboxInput),
        "choices": list(bound.subwidgets) if choices else None,
        "widget": "" if choices else bound.as_widget(attrs=attrs),
    }


@register.inclusion_tag("staff/parts/refused.html")
def refused(form: forms.BaseForm | None = None, sentence: str = "") -> dict[str, object]:
    """Print what was not written down and why: each field's sentence with a way to the field."""
    found = [{"sentence": sentence, "address": ""}] if sentence else []
    if form is not None and form.is_bound:
        found += [{"sentence": str(said), "address": ""} for said in form.non_field_errors()]
        for bound in form:
            place = "" if bound.is_hidden else bound.auto_id
            label = str(bound.label)
            found += [{"sentence": str(said), "address": place, "label": label} for said in bound.errors]
    return {"refusals": found}


@register.simple_tag(takes_context=True)
def qr(context: Context, address: str, words: str = "") -> SafeString:
    """Draw the code of a page of this shop; the quiet zone is inside the drawing."""
    whole = f"{context.get('base_address', '')}{address}" if address.startswith("/") else address
    drawn = segno.make(whole, error="q", micro=False).svg_inline(
        border=4, omitsize=True, svgclass="qr", lineclass=None, dark="#000"
    )
    said = format_html('<svg role="img" aria-label="Code: {}" ', words or whole)
    return mark_safe(drawn.replace("<svg ", said, 1))  # noqa: S308 - drawn by segno, words escaped

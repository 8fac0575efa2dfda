"""How the night says days, numbers and quantities."""

import datetime as dt
from zoneinfo import ZoneInfo

from django.utils.dateformat import format as written

from inventory.models import Item
from shop.shared import units

_SMALL = "no one two three four five six seven eight nine ten eleven twelve".split()
_SAME_IN_PLURAL = frozenset({"dozen", "gross", "ft", "m", "in", "mm", "lb", "kg", "gal", "L", "mL", "fl oz"})
FAR_DAYS = 300  # from here on a day without its year may be taken for one of this year. No source
NM_PER_METRE = 1000 * units.NM_PER_MM


def day(value: dt.date, *, seen: dt.date | None = None) -> str:
    """Write a day: Thu 17 Dec; with its year where it is far from the day it is seen on."""
    far = seen is not None and abs((value - seen).days) > FAR_DAYS
    return written(value, "D j M Y" if far else "D j M")


def full_day(value: dt.date) -> str:
    """Write a day in full: Thursday 26 November."""
    return written(value, "l j F")


def hour(at: dt.datetime, zone: str) -> str:
    """Write the time on the shop's wall: 6:00."""
    return written(at.astimezone(ZoneInfo(zone)), "G:i")


def grouped(number: int) -> str:
    """Write a whole number in groups of three."""
    return f"{number:,}".replace(",", "\u2009")


def count(number: int, thing: str) -> str:
    """Write how many of a thing, small numbers in words: two orders."""
    figure = _SMALL[number] if 0 <= number < len(_SMALL) else grouped(number)
    return f"{figure} {plural(thing, number)}"


def plural(thing: str, number: int) -> str:
    """Put a plain trade word into the plural where there is not exactly one."""
    if number == 1 or thing in _SAME_IN_PLURAL:
        return thing
    first, of, rest = thing.partition(" of ")  # bars of 6 m
    if of:
        return f"{plural(first, number)}{of}{rest}"
    if thing.endswith("y") and thing[-2:-1] not in "aeiou":
        return f"{thing[:-1]}ies"
    return f"{thing}es" if thing.endswith(("s", "x", "ch", "sh")) else f"{thing}s"


def capital(sentence: str) -> str:
    """Begin a sentence with a capital letter and leave the rest as it is."""
    return sentence[:1].upper() + sentence[1:]


def quantity(item: Item, qty: int) -> tuple[str, str]:
    """Return figure and unit of a quantity: as bought where it comes out whole, else as counted, measured or weighed."""
    packs, rest = divmod(qty, item.issue_per_buy)
    if item.buy_unit and not rest and (item.issue_per_buy > 1 or item.unit == Item.Unit.PIECE):
        return grouped(packs), plural(item.buy_unit, packs)
    if item.unit == Item.Unit.PIECE:
        return grouped(qty), plural("piece", qty)
    if item.unit == Item.Unit.NM:
        return _length(item, qty)
    text = units.mass_lb(qty) if item.unit == Item.Unit.MG else units.volume(qty).partition(" (")[0]
    figure, _, unit = text.partition(" ")
    return figure, unit


def spoken(item: Item, qty: int) -> str:
    """Write a quantity inside a sentence: 6 dozen."""
    return " ".join(quantity(item, qty))


def _length(item: Item, nm: int) -> tuple[str, str]:
    """Return a length of bar to the next whole foot, or metre where its section is metric."""
    metric = item.section is not None and "mm" in item.section.typed
    size, unit = (NM_PER_METRE, "m") if metric else (units.NM_PER_FOOT, "ft")
    return grouped(-(-nm // size)), unit

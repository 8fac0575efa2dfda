"""What is done with a bar or a lot: measured, moved, corrected, scrapped, taken out of use, put back."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Bar, Item, Lot
from inventory.queries import rack
from inventory.services import catalogue, correcting
from shop.access.middleware import Here
from shop.flows import delivering, doubting, stocktaking
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.views.asking import Ask, ask
from shop.staff.views.rack import ROOM, find_bar, lot_of
from shop.staff.views.rack_forms import HeatForm, LengthForm, PlaceForm, ReasonForm, ScrapForm


def measure(request: HttpRequest, number: str) -> HttpResponse:
    """Write down the measured length of a bar that waits at the Door."""
    here, bar = posting.here_of(request), find_bar(number)
    if bar is None:
        return posting.not_there(here)
    form = LengthForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        delivering.measure(
            bar, typed["length"], unit=typed["unit"] or None, stamp=who.stamp(happened_at=typed["happened_at"])
        )
        return _to(bar), f"Bar {bar.number} is {wording.amount(bar.lot.item, bar.length_nm)} and on the rack."

    lead = "Paint its number on the end that is kept last, then put it on the rack."
    return ask(here, form, _ask(bar, "Measure", lead, "Put it on the rack"), act)


def correct(request: HttpRequest, number: str) -> HttpResponse:
    """Correct the length a bar was typed with."""
    here, bar = posting.here_of(request), find_bar(number)
    if bar is None:
        return posting.not_there(here)
    form = LengthForm(_sent(here), shop=shop_row.the_shop(), initial={"length": bar.typed})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(happened_at=typed["happened_at"], reason="length typed wrongly")
        stocktaking.correct_length(bar, typed["length"], unit=typed["unit"] or None, stamp=stamp)
        return _to(
            bar
        ), f"Bar {bar.number} is {wording.amount(bar.lot.item, bar.length_nm)}; the difference is in the Book."

    lead = "The length it had when it came. What was cut since stays as it is."
    return ask(here, form, _ask(bar, "Correct the length", lead, "Correct it"), act)


def move(request: HttpRequest, number: str) -> HttpResponse:
    """Move a bar to another slot of the rack."""
    here, bar = posting.here_of(request), find_bar(number)
    left = rack.one(bar.lot, at=clock.now()) if bar else None
    if bar is None or left is None:
        return posting.not_there(here)
    form = PlaceForm(_sent(here), shop=shop_row.the_shop(), leave_out=left.place)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        target = catalogue.place(typed["place"])
        stamp = who.stamp(happened_at=typed["happened_at"])
        stocktaking.move(bar.lot, left.length_nm, source=left.place, target=target, stamp=stamp)
        return _to(bar), f"Bar {bar.number} is in {target.name}."

    asked = _ask(bar, "Move", f"It stands in {left.place.name}.", "Move it")
    return ask(here, form, asked, act, names={"target": "place"})


def scrap(request: HttpRequest, number: str) -> HttpResponse:
    """Book what is left of a bar as scrap or not found."""
    here, bar = posting.here_of(request), find_bar(number)
    left = rack.one(bar.lot, at=clock.now()) if bar else None
    if bar is None or left is None:
        return posting.not_there(here)
    form = ScrapForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stocktaking.write_off(
            bar.lot,
            left.length_nm,
            place=left.place,
            cause=typed["reason"],
            lost=typed["way"] == "lost",
            stamp=who.stamp(happened_at=typed["happened_at"]),
        )
        return _to(bar), f"Bar {bar.number} is written off."

    lead = f"All that is left of it, {wording.amount(bar.lot.item, left.length_nm)}."
    return ask(here, form, _ask(bar, "Scrap or lost", lead, "Write it off"), act, names={"cause": "reason"})


def shut(request: HttpRequest, number: int) -> HttpResponse:
    """Take a bar or a whole lot out of use at once; orders that counted on it give way."""
    here, lot = posting.here_of(request), lot_of(number)
    if lot is None:
        return posting.not_there(here)
    form = ReasonForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(happened_at=typed["happened_at"], reason=typed["reason"])
        outcome = doubting.out_of_use([lot], stamp=stamp)
        return _to_lot(lot), f"{_name(lot)} is not to be used. {outcome.said}".strip()

    lead = "From now on nothing of it is cut, promised or sent. The owner decides what becomes of it."
    return ask(here, form, _ask_lot(lot, "Not to be used", lead, "Take it out of use"), act)


def clear(request: HttpRequest, number: int) -> HttpResponse:
    """Put back what was not to be used."""
    here, lot = posting.here_of(request), lot_of(number)
    if lot is None:
        return posting.not_there(here)
    form = ReasonForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(happened_at=typed["happened_at"], reason=typed["reason"])
        stocktaking.back_in_use(lot, stamp=stamp)
        return _to_lot(lot), f"{_name(lot)} may be used again."

    return ask(
        here, form, _ask_lot(lot, "Use it again", "It goes back to where such things stand.", "Use it again"), act
    )


def heat(request: HttpRequest, number: int) -> HttpResponse:
    """Say which melt a lot really is; what was made of it follows."""
    here, lot = posting.here_of(request), lot_of(number)
    if lot is None or lot.melt is None:
        return posting.not_there(here)
    form = HeatForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        melt = correcting.melt_of(
            lot, typed["heat_number"], mill=typed["mill"], at=who.at, by=who.by, reason=typed["reason"]
        )
        return _to_lot(lot), f"{_name(lot)} is mill heat {melt.heat_number}, and so is what was made of it."

    lead = f"In the book it is mill heat {lot.melt.heat_number}."
    return ask(here, form, _ask_lot(lot, "Correct the mill heat", lead, "Correct it"), act)


def _sent(here: Here) -> Any:
    return here.POST if here.method == "POST" else None


def _to(bar: Bar) -> str:
    return reverse("staff:rack_bar", args=[bar.number])


def _to_lot(lot: Lot) -> str:
    if lot.item.kind == Item.Kind.BAR:
        return reverse("staff:rack_bar", args=[lot.bar.number])
    return reverse("staff:item", args=[lot.item.code])


def _name(lot: Lot) -> str:
    return f"Bar {lot.bar.number}" if lot.item.kind == Item.Kind.BAR else f"Lot {lot.code}"


def _ask(bar: Bar, title: str, lead: str, do: str) -> Ask:
    whole = f"{bar.lot.item.name}. {lead}"
    return Ask(f"{title}: bar {bar.number}", whole, do, _to(bar), f"Back to bar {bar.number}", room=ROOM, part=title)


def _ask_lot(lot: Lot, title: str, lead: str, do: str) -> Ask:
    whole = f"{lot.item.name}. {lead}"
    return Ask(
        f"{title}: {_name(lot)}", whole, do, _to_lot(lot), f"Back to {_name(lot).lower()}", room=ROOM, part=title
    )

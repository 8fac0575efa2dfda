"""One load of the oven: taken out, and read."""

from collections.abc import Sequence

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Hardness, LoadLot, OvenLoad
from inventory.services import hardness, ovens
from shop.access.services import tablets
from shop.flows import floor as flow
from shop.shared import shop_row
from shop.staff import posting, signing, wording
from shop.staff.fields import Moment, SlipForm, Words
from shop.staff.views.floor import ROOM
from shop.staff.views.floor_forms import HardnessField


class OutForm(SlipForm):
    """What became of a load."""

    reached = forms.ChoiceField(
        label="Temperature",
        choices=[("yes", "it held its temperature"), ("no", "it did not: temper again")],
        widget=forms.RadioSelect,
        initial="yes",
    )
    hot_at = Moment(label="At temperature at", help_text="Empty: as long after going in as the oven usually takes.")
    happened_at = Moment(label="Out at", help_text="Empty: now.")


class ReadForm(SlipForm):
    """A reading of a piece of the load."""

    lot = forms.ChoiceField(label="A piece of")
    reading = HardnessField(label="Hardness", help_text="53, rebound 53, or two files: 50/55.")


def load(request: HttpRequest, number: int) -> HttpResponse:
    """Take a load out, and write readings of it down."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    found = OvenLoad.objects.filter(number=number, entry__reversed_by=None).select_related("oven", "by").first()
    if found is None:
        return posting.not_there(here)
    held = list(found.lots.select_related("lot__run__pattern", "step").order_by("pk"))
    asked = here.POST.get("do") if here.method == "POST" else None
    out = OutForm(here.POST if asked == "out" else None, shop=shop)
    read = ReadForm(here.POST if asked == "read" else None, shop=shop)
    read.fields["lot"].choices = [(one.lot.code, _held_said(one)) for one in held]  # type: ignore[attr-defined]
    form: SlipForm | None = {"out": out, "read": read}.get(asked or "")
    if form is not None and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _out_or_read(found, held, form, who),
            names={"at_temperature_at": "hot_at", "hardness": "reading", "load": "reached"},
        )  # fmt: skip
        if done:
            return done
    facts = {
        "load": found,
        "held": held,
        "set_at": ovens.degrees(found.temperature_dc),
        "readings": list(found.hardness.select_related("lot__run", "by").order_by("pk")),
        "out_form": out if found.out_at is None else None,
        "read_form": read,
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/floor/load.html", ROOM, facts, form=form)


def _held_said(one: LoadLot) -> str:
    return f"{one.lot.run.code if one.lot.run else one.lot.code}, {wording.figures(one.qty)} in"


def _out_or_read(found: OvenLoad, held: Sequence[LoadLot], form: SlipForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    address = reverse("staff:floor_load", args=[found.number])
    if isinstance(form, ReadForm):
        lot = next(one.lot for one in held if one.lot.code == typed["lot"])
        made = hardness.read(lot, typed["reading"], stamp=who.stamp(), load=found, window=found.work == "temper")
        outside = "" if made.inside is not False else " It lies outside the window: these go no further as they are."
        return address, f"Written down: {reading_said(made)}.{outside}"
    out = flow.take_out(
        found, stamp=who.stamp(happened_at=typed["happened_at"]), at_temperature_at=typed["hot_at"],
        reached=typed["reached"] == "yes",
    )  # fmt: skip
    if out.reached:
        floor_page = reverse("staff:floor")
        return floor_page, f"Load {out.number} is out and tempered. Hot until it has cooled; take a reading then."
    return address, f"Load {out.number} fell short of its temperature or soak; its pieces have to be tempered again."


def reading_said(one: Hardness) -> str:
    """Write a reading: 53 HRC, or between files 50 and 55."""
    if one.method == Hardness.Method.FILES:
        return f"between the files {one.low / 10:g} and {one.high / 10:g}"
    by = " by rebound" if one.method == Hardness.Method.REBOUND else ""
    return f"{one.low / 10:g} HRC{by}"


def withdraw(request: HttpRequest, number: int, reading: int) -> HttpResponse:
    """Take a wrongly written reading back."""
    here = posting.here_of(request)
    found = Hardness.objects.filter(pk=reading, load__number=number, withdrawn_at=None).first()
    if found is None:
        return posting.not_there(here)
    form = WithdrawForm(here.POST, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        hardness.withdraw(found, stamp=who.stamp())
        return reverse("staff:floor_load", args=[number]), f"The reading {reading_said(found)} counts no more."

    done = posting.book(here, form, act) if form.is_valid() else None
    return done or posting.sheet(here, "staff/floor/refused.html", ROOM, {}, form=form)


class WithdrawForm(SlipForm):
    """A reading that was written wrongly."""

    why = Words(longest=200, label="Why", required=False)

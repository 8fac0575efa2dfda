"""The Door's second sitting: lengths, sizes, weight, another melt; the answer; claims and photos of a delivery."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Bar, Claim, Delivery, DeliveryLine, DeliveryPhoto
from inventory.queries import deliveries, findings, rack
from inventory.queries.deliveries import CameLine
from inventory.services import catalogue, checking_in
from inventory.services.delivery_lines import WEIGHED_BY
from shop.access.middleware import Here
from shop.access.services import tablets
from shop.flows import checking_in as flow
from shop.flows.checking_in import LineLook
from shop.shared import files, shop_row
from shop.staff import handing_out, posting, signing, wording
from shop.staff.fields import Day, SlipForm, Words
from shop.staff.file_field import FileField
from shop.staff.views.asking import Ask, ask

ROOM = "door"
_UNITS = [("", "as written"), ("ft", "feet"), ("in", "inches"), ("m", "metres"), ("mm", "millimetres")]
_WEIGHED = [("", "not weighed"), *((who, who) for who in WEIGHED_BY)]
_FIELDS = ("lengths", "sizes", "scale", "weighed_by", "other_bars", "other_heat")


class LookForm(SlipForm):
    """What the second look finds, line by line; every field may stay empty."""

    unit = forms.ChoiceField(label="Bare lengths are", choices=_UNITS, required=False)
    place = Words(longest=20, label="Slot", required=False, help_text="empty: the rack", attrs={"list": "slots"})

    def __init__(self, *args: Any, lines: Sequence[CameLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        for number, one in enumerate(self.lines):
            count = sum(not bar.measured for bar in one.bars)
            hints = {
                "lengths": f"{count} @ 20 ft 1/2 in; sawn in two: 9 ft 11 in + 10 ft 1 in",
                "sizes": "two a bar: 6 @ 2.004/1.998, 2.01/2.00",
                "scale": "all of them: 694 lb, 315 kg",
                "other_bars": "their numbers",
                "other_heat": "as on these bars",
            }
            labels = {
                "lengths": f"Lengths of {count} {'bar' if count == 1 else 'bars'}",
                "sizes": f"Sizes of {len(one.bars)}",
                "scale": "Scale",
                "other_bars": "Bars of another mill heat",
                "other_heat": "Their mill heat",
            }
            for name in _FIELDS:
                if name == "weighed_by":
                    field: forms.Field = forms.ChoiceField(label="Weighed by", choices=_WEIGHED, required=False)
                else:
                    longest = 2000 if name in ("lengths", "sizes") else 40
                    field = Words(longest=longest, label=labels[name], help_text=hints[name], required=False)
                if name != "lengths" or count:
                    self.fields[f"l{number}_{name}"] = field
        self.tune()

    def rows(self) -> list[tuple[CameLine, list[forms.BoundField], list[forms.BoundField], bool]]:
        """Return each line with its fields, those seldom used, and whether one of these is in use."""
        made = []
        for number, one in enumerate(self.lines):
            bound = [self[f"l{number}_{name}"] for name in _FIELDS if f"l{number}_{name}" in self.fields]
            seldom = [field for field in bound if "_other_" in field.name]
            used = any(field.errors or field.value() for field in seldom)
            made.append((one, [field for field in bound if field not in seldom], seldom, used))
        return made

    def looks(self) -> list[LineLook]:
        """Return what was typed, line by line."""
        typed = self.cleaned_data
        return [
            LineLook(one.line, **{name: typed.get(f"l{number}_{name}", "") for name in _FIELDS})
            for number, one in enumerate(self.lines)
        ]

    def names(self) -> dict[str, str]:
        """Return the form's name for each field that a refusal may name."""
        named = {f"looks.{n}.{name}": f"l{n}_{name}" for n in range(len(self.lines)) for name in _FIELDS}
        places = {f"looks.{n}.place": "place" for n in range(len(self.lines))}
        return {**named, **places}


def look(request: HttpRequest, number: int) -> HttpResponse:
    """Write down the second look at a delivery: on the rack, with tape, micrometer and scale."""
    here, found = posting.here_of(request), deliveries.by_number(number)
    if found is None or found.state != Delivery.State.BOOKED:
        return posting.not_there(here)
    lines = [one for one in deliveries.lines_of(found) if one.line.bars]
    form = LookForm(here.POST if here.method == "POST" else None, lines=lines, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _look(found, form, who), names=form.names()
        )
        if done:
            return done
    facts = {
        "delivery": found,
        "rows": form.rows(),
        "slots": rack.slots().filter(kind="rack"),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/door/look.html", ROOM, facts, form=form)


def _look(found: Delivery, form: LookForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    place = catalogue.place(typed["place"].upper()) if typed["place"] else None
    done = flow.look(form.looks(), unit=typed["unit"] or None, place=place, stamp=who.stamp())
    bars = "1 bar is" if done.racked == 1 else f"{done.racked} bars are"
    said = f"{bars} on the rack." if done.racked else "It is written down."
    return _to(found), f"{said} The answers stand below."


def findings_of(one: CameLine, here: Here) -> list[findings.Found]:
    """Return the answers about a line that this person may see."""
    return [found for found in findings.of_line(one.line, one.bars) if found.about != "price" or here.may.see_costs]


class AnswerForm(SlipForm):
    """What becomes of a line."""

    answer = forms.ChoiceField(label="Answer", choices=[(one, one) for one in checking_in.ANSWERS])
    note = Words(longest=300, label="Note", required=False, help_text="needed for all but accepted")


def answer(request: HttpRequest, number: int, line_number: int) -> HttpResponse:
    """Answer a line: accept it, with a note, take it out of use, or refuse it."""
    here, line = posting.here_of(request), _line(number, line_number)
    if line is None:
        return posting.not_there(here)
    form = AnswerForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        done = flow.answer(line, typed["answer"], typed["note"], stamp=who.stamp())
        said = {
            "refused": "It is booked back to the supplier.",
            "not to be used": "It is out of use: nothing of it is cut or promised.",
        }.get(typed["answer"], "It is accepted.")
        return _to(line.delivery), f"{said} {done.said if done else ''}".strip()

    lead = f"{line.item.name}. Refused steel is booked back to the supplier; what is not to be used stays apart."
    asked = _ask(line.delivery, "Answer", lead, "Write the answer")
    return ask(here, form, asked, act)


class ClaimForm(SlipForm):
    """What is claimed."""

    about = forms.ChoiceField(label="About", choices=[(one, one) for one in Claim.About.values])
    words = Words(longest=1000, rows=6, label="Words to send")


def claim(request: HttpRequest, number: int) -> HttpResponse:
    """Write a claim, begun with what the checks found."""
    here, found = posting.here_of(request), deliveries.by_number(number)
    if found is None or found.state != Delivery.State.BOOKED:
        return posting.not_there(here)
    form = ClaimForm(
        here.POST if here.method == "POST" else None, initial=_claim_text(found, here), shop=shop_row.the_shop()
    )

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        made = checking_in.claim(found, typed["about"], typed["words"], at=who.at, by=who.by)
        until = f" The supplier's last day for it is {wording.on_day(made.until)}." if made.until else ""
        return _to(found), f"The claim is kept; copy it into a mail and write down the day it was sent.{until}"

    until = checking_in.until(found)
    lead = f"Claims close {wording.on_day(until)}." if until else "The supplier's last day for claims is not known."
    return ask(here, form, _ask(found, "Claim", lead, "Keep the claim"), act)


def _claim_text(found: Delivery, here: Here) -> Mapping[str, str]:
    wrong = [
        one for line in deliveries.lines_of(found) if line.line.bars for one in findings_of(line, here) if one.claim
    ]
    papers = [f"your paper {found.supplier_paper}"] if found.supplier_paper else []
    orders = [f"our order {found.order.number}"] if found.order else []
    came = found.happened_at or found.started_at
    head = f"Delivery of {wording.on_day(came.date())} ({', '.join([*papers, *orders, f'delivery {found.number}'])}):"
    words = "\n".join([head, *(f"- {one.claim}" for one in wrong), "Please tell us how you will put this right."])
    about = next((one.about for one in wrong if one.good is False), wrong[0].about if wrong else Claim.About.SHORT)
    return {"about": about, "words": words if wrong else ""}


class ClaimFollowForm(SlipForm):
    """What came of a claim."""

    sent_on = Day(label="Sent on", required=False)
    settled = Words(
        longest=300, label="Settled", required=False, help_text="credit note, replacement; empty: still open"
    )


def claim_follow(request: HttpRequest, number: int) -> HttpResponse:
    """Write down when a claim was sent and what came of it."""
    here = posting.here_of(request)
    found = Claim.objects.select_related("delivery").filter(pk=number).first()
    if found is None:
        return posting.not_there(here)
    begun = {"sent_on": found.sent_on, "settled": found.settled}
    form = ClaimFollowForm(here.POST if here.method == "POST" else None, initial=begun, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        checking_in.settle(found, sent_on=typed["sent_on"], settled=typed["settled"], at=who.at, by=who.by)
        return _to(found.delivery), "It is written down."

    return ask(here, form, _ask(found.delivery, "Follow the claim", found.words, "Write it down"), act)


class PhotoForm(SlipForm):
    """A photo."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"] = FileField("Photo")
        self.fields["file"].required = True
        self.fields["words"] = Words(
            longest=120, label="Shows", required=False, help_text="the tag, the bend, the slip"
        )
        self.tune()


def photo(request: HttpRequest, number: int) -> HttpResponse:
    """Keep a photo with a delivery."""
    here, found = posting.here_of(request), deliveries.by_number(number)
    if found is None:
        return posting.not_there(here)
    form = PhotoForm(*posting.sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        checking_in.add_photo(found, typed["file"], typed["words"], at=who.at, by=who.by)
        return _to(found), "The photo is kept."

    with files.only_if_booked(
        form.cleaned_data.get("file") if here.method == "POST" and form.is_valid() else None, checking_in.names_file
    ):
        return ask(here, form, _ask(found, "Add a photo", "Damage, a tag, the slip.", "Keep the photo"), act)


def photo_file(request: HttpRequest, number: int) -> HttpResponse:
    """Show a photo of a delivery."""
    here, found = posting.here_of(request), DeliveryPhoto.objects.filter(pk=number).first()
    if found is None:
        return posting.not_there(here)
    return handing_out.kept_file(here, found.file, found.file_name, f"photo {found.pk} of a delivery")


def _line(number: int, line_number: int) -> DeliveryLine | None:
    lines = DeliveryLine.objects.select_related("delivery__supplier", "item")
    return lines.filter(
        delivery__number=number, delivery__state=Delivery.State.BOOKED, number=line_number, bars__isnull=False
    ).first()


def _to(found: Delivery) -> str:
    return reverse("staff:delivery", args=[found.number])


def _ask(found: Delivery, title: str, lead: str, do: str) -> Ask:
    whole = f"Delivery {found.number}: {title.lower()}"
    return Ask(whole, lead, do, _to(found), f"Back to delivery {found.number}", room=ROOM, part=title)


def unsized(bars: Sequence[Bar]) -> int:
    """Return how many bars have no sizes yet."""
    return sum(bar.first_nm is None for bar in bars)

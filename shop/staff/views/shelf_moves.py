"""What happens at the shelf besides making up: counts, use, losses, take-outs and what comes back from them."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Holding, Item, Place, TakeOut
from inventory.queries import shelf
from orders.services.ordering import MOST_PIECES
from shop.access.middleware import Here
from shop.flows import stocktaking, taking_out
from shop.shared import shop_row
from shop.staff import posting, wording
from shop.staff.fields import Day, Moment, SlipForm, Whole, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link
from shop.staff.views.shelf_forms import Quantity

ROOM = "shelf"
_WHY = [
    ("sample", "a sample"),
    ("gift", "a gift"),
    ("own tooling", "own tooling"),
    ("trial piece", "a trial piece"),
    ("photo", "a photo: comes back"),
    ("show", "a show: comes back"),
]
_HINTS = {Item.Unit.MG: "With its unit: 2 kg, 4 lb.", Item.Unit.UL: "With its unit: 3 L, 1/2 gal."}


class _ItemForm(SlipForm):
    """A form about one item, whose quantity is in the item's unit."""

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, Quantity):
                field.item = item
                field.help_text = field.help_text or _HINTS.get(Item.Unit(item.unit), "")


class CountForm(_ItemForm):
    """What was counted at a place."""

    place = forms.ChoiceField(label="Where")
    found = Quantity(label="How many are there")
    happened_at = Moment(label="Counted at", help_text="Empty: now.")


class UseForm(_ItemForm):
    """What the shop used."""

    qty = Quantity(label="How much was used")
    reason = Words(longest=300, label="What for", required=False)
    happened_at = Moment(label="Used at", help_text="Empty: now.")


class ScrapForm(_ItemForm):
    """Pieces of one lot that are scrap or lost."""

    holding = forms.ChoiceField(label="Of which lot")
    qty = Quantity(label="How many")
    way = forms.ChoiceField(
        label="They are", choices=[("scrap", "scrap"), ("lost", "lost")], widget=forms.RadioSelect, initial="scrap"
    )
    cause = Words(longest=200, label="Cause", required=True)
    happened_at = Moment(label="Found at", help_text="Empty: now.")


class TakeOutForm(_ItemForm):
    """Pieces taken out of stock, and what for."""

    qty = Quantity(label="How many")
    why = forms.ChoiceField(label="For", choices=_WHY)
    for_whom = Words(longest=120, label="For whom", required=False)
    due_back = Day(label="Due back", required=False)
    happened_at = Moment(label="Taken at", help_text="Empty: now.")


class TakeBackForm(SlipForm):
    """Pieces that came back from a photo or a show."""

    qty = Whole(label="How many came back", most=MOST_PIECES)
    happened_at = Moment(label="Came back at", help_text="Empty: now.")


def count(request: HttpRequest, code: str) -> HttpResponse:
    """Count an item at one place; what is missing makes orders give way."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None or item.kind == Item.Kind.BAR:
        return posting.not_there(here)
    form = CountForm(_sent(here), shop=shop_row.the_shop(), item=item)
    places = _places(item)
    form.fields["place"].choices = [(p.code, p.name) for p in places]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        place = next(p for p in places if p.code == typed["place"])
        outcome = stocktaking.count(item, place, typed["found"], stamp=who.stamp(happened_at=typed["happened_at"]))
        agreed = "as the book says" if outcome.entry is None else f"line {wording.figures(outcome.entry.pk)}"
        said = f"{wording.counted(item, typed['found'])} counted at {place.name}: {agreed}. {outcome.said}"
        return _to(item), said.strip()

    lead = f"{item.name}. Count all that lies there, what is set aside too."
    return ask(here, form, _ask(item, "Count", lead, "Book the count"), act, names={"qty": "found"})


def _places(item: Item) -> list[Place]:
    """Return where an item may be counted: where it stands, and the places from which it is sold."""
    held = Holding.objects.filter(item=item, on_hand__gt=0, step=0).values("place_id")
    found = Place.objects.filter(inside=True, pk__in=held) | Place.objects.filter(sellable=True)
    held_ids = {row["place_id"] for row in held}
    return sorted(found.distinct().order_by("code"), key=lambda place: place.pk not in held_ids)


def use(request: HttpRequest, code: str) -> HttpResponse:
    """Book what the shop used of an item."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None or item.kind == Item.Kind.BAR:
        return posting.not_there(here)
    form = UseForm(_sent(here), shop=shop_row.the_shop(), item=item)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(happened_at=typed["happened_at"], reason=typed["reason"])
        stocktaking.use(item, typed["qty"], stamp=stamp)
        return _to(item), f"{wording.counted(item, typed['qty'])} used."

    return ask(here, form, _ask(item, "Use", item.name, "Book it as used"), act)


def scrap(request: HttpRequest, code: str) -> HttpResponse:
    """Book pieces of a lot as scrap or lost; orders that counted on them give way."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None or item.kind == Item.Kind.BAR:
        return posting.not_there(here)
    held = Holding.objects.filter(item=item, on_hand__gt=0, place__inside=True).select_related("lot__item", "place")
    holdings = {str(one.pk): one for one in held.order_by("lot_id", "place__code")[:200]}
    form = ScrapForm(_sent(here), shop=shop_row.the_shop(), item=item)
    form.fields["holding"].choices = [  # type: ignore[attr-defined]
        (key, f"lot {one.lot.code}, {wording.amount(item, one.on_hand)} at {one.place.name}")
        for key, one in holdings.items()
    ]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        one = holdings[typed["holding"]]
        stamp = who.stamp(happened_at=typed["happened_at"])
        outcome = stocktaking.write_off(
            one.lot,
            typed["qty"],
            place=one.place,
            cause=typed["cause"],
            stamp=stamp,
            lost=typed["way"] == "lost",
            step=one.step,
        )
        return _to(item), f"{wording.counted(item, typed['qty'])} written off. {outcome.said}".strip()

    return ask(here, form, _ask(item, "Scrap or lost", item.name, "Write it off"), act)


def take_out(request: HttpRequest, code: str) -> HttpResponse:
    """Take free pieces out for a sample, gift, own tooling, trial, photo or show."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None or item.kind == Item.Kind.BAR:
        return posting.not_there(here)
    form = TakeOutForm(_sent(here), shop=shop_row.the_shop(), item=item)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        taking_out.take_out(
            item,
            typed["qty"],
            typed["why"],
            stamp=who.stamp(happened_at=typed["happened_at"]),
            for_whom=typed["for_whom"],
            due_back=typed["due_back"],
        )
        return _to(item), f"{wording.counted(item, typed['qty'])} taken out for {dict(_WHY)[typed['why']]}."

    lead = f"{item.name}. What goes out for a photo or a show comes back; the rest is gone from stock."
    return ask(here, form, _ask(item, "Take out", lead, "Take it out"), act)


def out(request: HttpRequest) -> HttpResponse:
    """List what is out for a photo or a show and due back."""
    here = posting.here_of(request)
    columns = [Column("due back"), Column("what"), Column("out", figures=True), Column("for"), Column("")]
    rows = []
    for one in shelf.out_and_coming_back():
        due = wording.on_day(one.due_back) if one.due_back else "no day"
        for_whom = f"{one.why}, {one.for_whom}" if one.for_whom else one.why
        left = wording.amount(one.item, one.qty - one.back)
        rows.append([due, one.item.name, left, for_whom, link("staff:shelf_back", "It is back", one.pk)])
    return posting.sheet(here, "staff/shelf/out.html", ROOM, {"table": Ruled("Out and coming back", columns, rows)})


def take_back(request: HttpRequest, number: int) -> HttpResponse:
    """Bring pieces back from a photo or a show."""
    here = posting.here_of(request)
    taken = TakeOut.objects.select_related("item").filter(pk=number, why__in=TakeOut.COMING_BACK).first()
    if taken is None:
        return posting.not_there(here)
    left = taken.qty - taken.back
    form = TakeBackForm(_sent(here), shop=shop_row.the_shop(), initial={"qty": left})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        taking_out.take_back(taken, typed["qty"], stamp=who.stamp(happened_at=typed["happened_at"]))
        return reverse("staff:shelf_out"), f"{wording.counted(taken.item, typed['qty'])} back on the shelf."

    lead = f"{wording.counted(taken.item, left)} still out for a {taken.why}."
    asked = Ask("Back again", lead, "Put it back", reverse("staff:shelf_out"), "What is out", room=ROOM)
    return ask(here, form, asked, act)


def _sent(here: Here) -> Any:
    return here.POST if here.method == "POST" else None


def _to(item: Item) -> str:
    return reverse("staff:item", args=[item.code])


def _ask(item: Item, title: str, lead: str, do: str) -> Ask:
    return Ask(f"{title}: {item.code}", lead, do, _to(item), f"Back to {item.code}", room=ROOM, part=title)

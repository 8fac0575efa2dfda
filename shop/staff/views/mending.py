"""Pieces that customers bring to be mended, at the Counter; they are never stock."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Item
from inventory.queries import shelf
from orders.models import BroughtIn
from orders.queries import customers as queries
from orders.services import mending
from orders.services.mending import Brought
from shop.flows import bringing_in
from shop.shared import shop_row, units
from shop.shared.errors import Invalid
from shop.staff import posting, wording
from shop.staff.fields import Amount, Day, Moment, SlipForm, Whole, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link

ROOM = "counter"


class BringForm(SlipForm):
    """What was brought, by whom, and what is to be done to it."""

    customer = Words(longest=120, label="Whose is it", attrs={"list": "customers"})
    what = Words(longest=120, label="What is it")
    wanted = Words(longest=300, label="What is to be done")
    handle = Words(longest=30, label="Handle", required=False, help_text="Its code, where it gets one.")
    wedge = Words(longest=30, label="Wedge", required=False, help_text="Its code.")
    ready_by = Day(label="Ready by", required=False)
    price = Amount(label="Price", required=False)


class MendedForm(SlipForm):
    """What was used on it."""

    handles = Whole(label="Handles used", required=False, least=0)
    wedges = Whole(label="Wedges used", required=False, least=0)
    minutes = Whole(label="Minutes it took", required=False, most=100_000)
    happened_at = Moment(label="Done at", help_text="Empty: now.")


class BackForm(SlipForm):
    """The piece goes back to its owner."""

    happened_at = Moment(label="Given back at", help_text="Empty: now.")


def pieces(request: HttpRequest) -> HttpResponse:
    """List what is here to be mended, and what went back last."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    columns = [
        Column("piece"),
        Column("whose"),
        Column("what"),
        Column("to be done"),
        Column("ready by"),
        Column("stands"),
    ]
    rows = []
    found = BroughtIn.objects.select_related("customer").order_by("-number")
    for one in sorted(found[:100], key=lambda each: (each.given_back_at is not None, -each.number)):
        stands = "given back" if one.given_back_at else "done" if one.done_at else "waits"
        day = wording.on_day(one.ready_by) if one.ready_by else ""
        name = link("staff:mending", str(one.number), one.number)
        rows.append([name, one.customer.name, one.what, one.wanted, day, stands])
    facts = {"table": Ruled("Pieces brought in", columns, rows), "shop_name": shop.name}
    return posting.sheet(here, "staff/counter/mending.html", ROOM, facts)


def bring_in(request: HttpRequest) -> HttpResponse:
    """Take a customer's piece in."""
    here = posting.here_of(request)
    form = BringForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        brought = Brought(
            typed["what"], typed["wanted"], _item(typed["handle"], "handle"), _item(typed["wedge"], "wedge"), typed["ready_by"],
            typed["price"],
        )  # fmt: skip
        made = mending.bring_in(mending.owner(typed["customer"], at=who.at, by=who.by), brought, at=who.at, by=who.by)
        return reverse("staff:mending", args=[made.number]), f"Piece {made.number} is in; tie its number to it."

    asked = Ask(
        "A piece brought in", "The customer's own: it is never counted as stock.", "Take it in",
        reverse("staff:counter_mending"), "Pieces brought in", room=ROOM, part="Piece",
    )  # fmt: skip
    customers = list(queries.listed()[:300])
    return ask(here, form, asked, act, names={"price_minor": "price"}, facts={"customers": customers})


def _item(code: str, field: str) -> Item | None:
    found = shelf.find_item(code.strip().upper()) if code else None
    if code and found is None:
        raise Invalid.field(field, f"{field.capitalize()}: {code[:30]!r} is no item of the book; write its code.")
    return found


def piece(request: HttpRequest, number: int) -> HttpResponse:
    """Show a piece; book it as mended, or give it back."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    found = BroughtIn.objects.select_related("customer", "handle", "wedge").filter(number=number).first()
    if found is None:
        return posting.not_there(here)
    sent = here.POST if here.method == "POST" else None
    form: SlipForm = BackForm(sent, shop=shop) if found.done_at else MendedForm(sent, shop=shop)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(happened_at=typed["happened_at"])
        if isinstance(form, BackForm):
            mending.give_back(found, at=stamp.when, by=who.by)
            return reverse("staff:counter_mending"), f"Piece {found.number} went back to {found.customer.name}."
        bringing_in.done(
            found, handles=typed["handles"] or 0, wedges=typed["wedges"] or 0, minutes=typed["minutes"], stamp=stamp
        )
        return reverse("staff:mending", args=[found.number]), f"Piece {found.number} is done."

    if here.method == "POST" and form.is_valid() and not found.given_back_at:
        done = posting.book(here, form, act)
        if done:
            return done
    facts = {
        "piece": found,
        "price": units.money(found.price_minor, shop.currency) if found.price_minor is not None else "",
    }
    return posting.sheet(here, "staff/counter/mending_piece.html", ROOM, facts, form=form)

"""Wrong or doubtful steel: everything of a melt and all that was made of it, out of use at once; later scrapped."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Melt
from inventory.queries import rack, trace
from inventory.services import doubting as service
from orders.queries import book
from shop.flows import doubting
from shop.shared import shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link
from shop.staff.views.rack import ROOM, lot_of
from shop.staff.views.rack_forms import ReasonForm


def melt(request: HttpRequest, number: int) -> HttpResponse:
    """Take everything of a mill heat out of use; who has pieces of it already stands below."""
    here, found = posting.here_of(request), trace.find_melt(number)
    if found is None:
        return posting.not_there(here)
    form = ReasonForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(reason=typed["reason"], happened_at=typed["happened_at"])
        done = doubting.melt_out_of_use(found, stamp=stamp)
        count = len(done.entries)
        lots = "1 lot is" if count == 1 else f"{count} lots are"
        said = f"{lots} of mill heat {found.heat_number} not to be used. {done.said}".strip()
        return reverse("staff:book_melt", args=[found.pk]), said

    asked = Ask(
        f"Not to be used: mill heat {found.heat_number}",
        f"{found.grade}. All of it in the shop, and all that was made of it, is taken out of use at once. {_away(found)}",
        "Take it all out of use",
        reverse("staff:book_melt", args=[found.pk]),
        "Back to the mill heat",
        room=ROOM,
        part="Why",
        table=_standing(found),
    )
    return ask(here, form, asked, act)


def _standing(found: Melt) -> Ruled:
    columns = [Column("what"), Column("how much", figures=True), Column("lot or bar")]
    rows = []
    for lot in service.standing_of(found):
        named = lot.bar.number if hasattr(lot, "bar") else lot.code
        left = sum(one.on_hand for one in lot.holdings.filter(place__inside=True))
        rows.append([lot.item.name, wording.amount(lot.item, left), link("staff:book_lot", named, lot.pk)])
    return Ruled("In the shop", columns, rows)


def _away(found: Melt) -> str:
    starts = trace.lots_of_melt(found)
    family = {*starts, *(step.child for step in trace.down(starts))}
    sent = book.shipped(family)
    if not sent:
        return "Nothing of it has been sent."
    pieces = sum(one.qty for one in sent)
    orders = len({one.shipment_line.shipment.order_id for one in sent})
    return f"{wording.figures(pieces)} were sent for {wording.figures(orders)} orders: the page of the mill heat names them."


def scrap(request: HttpRequest, number: int) -> HttpResponse:
    """Scrap what is not to be used, as the owner decides."""
    here, lot = posting.here_of(request), lot_of(number)
    if lot is None:
        return posting.not_there(here)
    form = ReasonForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        doubting.scrap(lot, stamp=who.stamp(reason=typed["reason"], happened_at=typed["happened_at"]))
        return reverse("staff:rack_not_used"), f"{lot.item.name}, lot {lot.code}, is scrap."

    heat = rack.heat_of(lot)
    asked = Ask(
        f"Scrap: lot {lot.code}",
        f"{lot.item.name}{f', mill heat {heat}' if heat else ''}. All of it that is not to be used.",
        "Book it as scrap",
        reverse("staff:rack_not_used"),
        "Back to what is not to be used",
        room=ROOM,
        part="Why",
    )
    return ask(here, form, asked, act)

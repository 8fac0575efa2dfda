"""What a piece uses of a consumable, as counts and bottles taught it; put into the routes at one touch."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from inventory.models import Item
from inventory.queries import shelf, used_up
from shop.flows import use_rates as flow
from shop.flows.night import words
from shop.shared import shop_row, units
from shop.staff import posting
from shop.staff.fields import SlipForm, Whole
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask

MOST = 2_000_000_000


class RateForm(SlipForm):
    """What a hundred pieces use, as it was shown."""

    now = Whole(label="For a hundred pieces, in the item’s unit", most=MOST)


def use_said(item: Item) -> tuple[str, str] | None:
    """Say what a piece uses, with its spread; and the address where the routes are changed, where they say otherwise."""
    if item.kind != Item.Kind.CONSUMABLE:
        return None
    found = used_up.of(item)
    if found is None:
        return None
    use = found.use
    each = 100 * float(use.each)
    said = f"A hundred pieces use about {_amount(item, each)}"
    looks = words.count(use.intervals + 1, "bottle" if item.buy_unit == "bottle" else "count")
    said += f", give or take {_amount(item, 100 * use.spread)}, from {words.grouped(use.pieces)} pieces made between {looks}."
    if found.lasts is not None:
        said += f" One {item.buy_unit or 'unit'} lasts for about {words.grouped(found.lasts[0])}."
    changed = flow.proposal(item)
    return said, reverse("staff:item_use_rate", args=[item.code]) if changed else ""


def _amount(item: Item, qty: float) -> str:
    if item.unit == Item.Unit.MG:
        return units.mass_kg(round(qty))
    if item.unit == Item.Unit.UL:
        return units.volume(round(qty))
    return f"{qty:.3g}"


def use_rate(request: HttpRequest, code: str) -> HttpResponse:
    """Put what was learned into the routes: a new version of each that uses the item."""
    here, item = posting.here_of(request), shelf.find_item(code)
    wanted = flow.proposal(item) if item else None
    if item is None:
        return posting.not_there(here)
    if wanted is None and here.method != "POST":
        posting.say(here, "Too little is learned of it yet, or the routes say already what was learned.")
        return HttpResponseRedirect(reverse("staff:item", args=[item.code]))
    first = {"now": str(wanted.now)} if wanted else {}
    form = RateForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), initial=first)
    back = reverse("staff:item", args=[item.code])

    def act(who: posting.Doing) -> tuple[str, str]:
        made = flow.take(item, now=form.cleaned_data["now"], stamp=who.stamp())
        return back, f"{words.capital(words.count(len(made), 'new route'))} written; runs that were begun keep theirs."

    lead, table = "", None
    if wanted:
        lead = f"{item.name}: the routes say {_amount(item, wanted.was)} for a hundred pieces, counts say {_amount(item, wanted.now)}."
        lead += " Every step below takes its share of that."
        columns = [Column("pattern"), Column("step"), Column("for a hundred now", figures=True)]
        rows = [
            [one.route.pattern.name, one.name, _amount(item, one.uses.get(item=item).per_hundred)]
            for one in wanted.steps
        ]
        table = Ruled("Steps that use it", columns, rows)
    asked = Ask(
        "What a hundred pieces use",
        lead,
        "Put it into the routes",
        back,
        f"Back to {item.code}",
        room="shelf",
        table=table,
    )
    return ask(here, form, asked, act)

"""Gas bottles: full, part, empty; read by quarters, put in, sent back with their deposit."""

import re

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Bottle, Item, Supplier
from inventory.queries import bottles as queries
from inventory.queries.bottles import Gas
from inventory.services import bottles as services
from inventory.services import purchasing
from shop.access.roles import DESK, reaches
from shop.access.services import tablets
from shop.flows import bottles as flow
from shop.shared import clock, shop_row, units
from shop.staff import posting, signing, wording
from shop.staff.fields import Amount, Day, Moment, SlipForm, Whole, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link

ROOM = "shelf"
FULL = ("empty", "1/4 full", "half full", "3/4 full", "full")
_DO = [("put in", "put in now"), *((str(n), FULL[n]) for n in (4, 3, 2, 1, 0)), ("back", "goes back")]
CAUTION = (
    "Upright, outdoors or where your local code and your insurer allow; caps on, away from exits and fire; "
    "empty ones count as full."
)


class BottleForm(SlipForm):
    """What is done with a bottle."""

    do = forms.ChoiceField(label="It is", choices=_DO, widget=forms.RadioSelect)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)
    happened_at = Moment(label="It happened at", help_text="Empty: now.")


class CameForm(SlipForm):
    """Bottles that came, or stand here already."""

    item = forms.ChoiceField(label="What is in them")
    numbers = Words(longest=300, label="Numbers", help_text="as painted or stamped, with commas: 12, 14, A7")
    full = Whole(label="Quarters full", least=0, most=4, help_text="4: full")
    deposit = Amount(label="Deposit for one", required=False)
    supplier = Words(longest=120, label="Supplier", required=False, attrs={"list": "suppliers"})
    came_on = Day(label="Came on")


def bottles(request: HttpRequest) -> HttpResponse:
    """List the bottles that are here, gas by gas."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    found = queries.gases()
    inside = queries.lp_gas_inside(found)
    facts = {
        "gases": [(one, _said(one, shop.currency), _table(one, shop.currency)) for one in found],
        "caution": CAUTION,
        "inside": units.mass_lb(inside) if inside else "",
        "limit": units.mass_lb(shop.lp_gas_most_mg),
        "over": queries.over_limit(shop, found),
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/shelf/bottles.html", ROOM, facts)


def _said(gas: Gas, currency: str) -> str:
    """Say how many are full, part and empty, what is paid on them, and where book and bottles differ."""
    parts = [
        f"{wording.figures(gas.number(state))} {state}" for state in ("full", "part", "empty") if gas.number(state)
    ]
    said = ", ".join(parts) + "." if parts else "No bottle is written down."
    if gas.deposits:
        said += f" Deposits of {units.money(gas.deposits, currency)} are out."
    if gas.bottles and abs(gas.book - gas.counted) * 8 > gas.item.issue_per_buy:
        said += (
            f" The book says {wording.amount(gas.item, gas.book)} of gas, the bottles {wording.amount(gas.item, gas.counted)}:"
            " receive what came at the Door, or count."
        )
    return said


def _table(gas: Gas, currency: str) -> Ruled:
    columns = [Column("bottle"), Column("how full"), Column("whose"), Column("deposit", figures=True)]
    rows = [
        [
            link("staff:bottle", one.number, one.pk),
            FULL[one.quarters] + (", in use" if one.in_use else ""),
            one.supplier.name if one.supplier else "",
            units.money(one.deposit_minor, currency) if one.deposit_minor else "",
        ]
        for one in gas.bottles
    ]
    return Ruled(f"Bottles of {gas.item.name}", columns, rows)


def bottle(request: HttpRequest, number: int) -> HttpResponse:
    """Put a bottle in, read it, or send it back."""
    here = posting.here_of(request)
    found = Bottle.objects.filter(pk=number).select_related("item", "supplier").first()
    if found is None:
        return posting.not_there(here)
    form = BottleForm(
        here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), initial={"version": found.version}
    )

    def act(who: posting.Doing) -> tuple[str, str]:
        return reverse("staff:bottles"), _do(found, form, who)

    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, act, names={"quarters": "do"})
        if done:
            return done
    facts = {
        "bottle": found,
        "full": FULL[found.quarters],
        "gone": found.state == Bottle.State.BACK,
        "changes": found.changes.order_by("-pk")[:12],
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/shelf/bottle.html", ROOM, facts, form=form)


def _do(found: Bottle, form: BottleForm, who: posting.Doing) -> str:
    typed = form.cleaned_data
    stamp, version, do = who.stamp(happened_at=typed["happened_at"]), typed["version"], typed["do"]
    if do == "put in":
        before = flow.change(found, version=version, stamp=stamp)
        return f"Bottle {found.number} is in." + (f" Bottle {before.number} is empty." if before else "")
    if do == "back":
        services.back(found, version=version, stamp=stamp)
        return f"Bottle {found.number} went back."
    flow.read(found, int(do), version=version, stamp=stamp)
    return f"Bottle {found.number} is {FULL[int(do)]}."


def bottles_new(request: HttpRequest) -> HttpResponse:
    """Write down bottles that came or stand here."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    today = clock.local_date(clock.now(), shop.zone)
    form = CameForm(here.POST if here.method == "POST" else None, shop=shop, initial={"full": 4, "came_on": today})
    items = {one.code: one for one in Item.objects.filter(active=True, buy_unit="bottle").order_by("code")}
    form.fields["item"].choices = [(one.code, one.name) for one in items.values()]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        supplier = purchasing.supplier_named(typed["supplier"], at=who.at, by=who.by) if typed["supplier"] else None
        numbers = [one for one in re.split(r"[,;\n]+", typed["numbers"]) if one.strip()]
        made = services.came(
            items[typed["item"]], numbers, stamp=who.stamp(), came_on=typed["came_on"], supplier=supplier,
            deposit_minor=typed["deposit"] or 0, quarters=typed["full"],
        )  # fmt: skip
        return reverse("staff:bottles"), f"Written down: {', '.join(one.number for one in made)}."

    lead = "The bottles themselves. The gas in them is received at the Door, or counted, as any goods."
    asked = Ask(
        "Bottles that came", lead, "Write them down", reverse("staff:bottles"), "Back to the bottles", room=ROOM,
        hazard="LP-gas", caution=CAUTION,
    )  # fmt: skip
    facts = {"suppliers": Supplier.objects.order_by("name")[:300]}
    return ask(here, form, asked, act, names={"quarters": "full"}, facts=facts)

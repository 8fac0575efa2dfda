"""The owner's settings about buying, and which parts of the night's e-mail each recipient gets."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from shop.flows.night import headline
from shop.shared import buying_settings, shop_row, units
from shop.shared.buying_settings import Buying
from shop.shared.errors import Invalid
from shop.shared.models import Recipient
from shop.staff import posting
from shop.staff.fields import Amount, SlipForm, Typed, Weight, Whole, Words, typed_amount

_DAYS = [
    (0, "Monday"),
    (1, "Tuesday"),
    (2, "Wednesday"),
    (3, "Thursday"),
    (4, "Friday"),
    (5, "Saturday"),
    (6, "Sunday"),
]
_NAMES = {"holding_percent": "holding", "order_cost_minor": "order_cost", "spend_minor": "spend"}


class Volume(Typed):
    """A volume as it is poured: 60 gal, 200 L."""

    def read(self, text: str) -> int:
        """Return microlitres."""
        return units.parse_volume(text, field="flammable", allow_zero=True).ul


class BuyingForm(SlipForm):
    """What keeping and ordering cost, how seldom things run dry, limits and money."""

    holding = Whole(
        label="Keeping stock", least=0, most=100, help_text="What it costs a year, of 100 of its value: 20 is usual."
    )
    order_cost = Amount(label="An order costs", help_text="Your time and the paper of one order to a supplier.")
    spend = Amount(label="May be spent", required=False, help_text="On goods now; empty: enough.")
    dry_often = Whole(label="Counted often", least=50, most=99)
    dry_sometimes = Whole(label="Counted sometimes", least=50, most=99)
    dry_seldom = Whole(label="Counted seldom", least=50, most=99)
    lp_gas = Weight(label="LP-gas inside", help_text="At most, empty bottles counted as full: 300 lb.")
    flammable = Volume(label="Flammables", help_text="At most in the cabinet: 60 gal.")
    steel_papers = Words(
        longest=300, rows=3, label="With steel", required=False,
        help_text="What an order asks for; a certificate’s type is one of EN 10204: 2.1, 2.2, 3.1 or 3.2.",
    )  # fmt: skip
    weekly_day = forms.TypedChoiceField(label="Letter of the week on", choices=_DAYS, coerce=int)


def buying(request: HttpRequest) -> HttpResponse:
    """Change the settings about buying."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    now = buying_settings.of(shop)
    first = {
        "holding": now.holding_percent, "order_cost": typed_amount(now.order_cost_minor, shop.currency),
        "spend": "" if now.spend_minor is None else typed_amount(now.spend_minor, shop.currency),
        "dry_often": now.dry_often, "dry_sometimes": now.dry_sometimes, "dry_seldom": now.dry_seldom,
        "lp_gas": units.mass_lb(now.lp_gas_most_mg), "flammable": units.volume(now.flammable_most_ul).partition(" (")[0],
        "steel_papers": now.steel_papers, "weekly_day": now.weekly_day,
    }  # fmt: skip
    form = BuyingForm(here.POST if here.method == "POST" else None, shop=shop, initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        kept = {name: name in form.changed_data for name in ("lp_gas", "flammable")}
        wanted = Buying(
            typed["holding"], typed["order_cost"], typed["spend"], typed["dry_often"], typed["dry_sometimes"],
            typed["dry_seldom"], typed["lp_gas"].mg if kept["lp_gas"] else now.lp_gas_most_mg,
            typed["flammable"] if kept["flammable"] else now.flammable_most_ul, typed["weekly_day"],
            " ".join(typed["steel_papers"].split()),
        )  # fmt: skip
        buying_settings.change(wanted, at=who.at, by=who.by.label)
        return reverse("staff:settings_buying"), "The settings about buying are changed."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act, names=_NAMES)
        if done:
            return done
    return posting.sheet(here, "staff/access/buying.html", "day", {}, form=form)


class LettersForm(SlipForm):
    """Which parts somebody gets."""

    parts = forms.MultipleChoiceField(
        label="Gets", choices=list(headline.NAMES.items()), widget=forms.CheckboxSelectMultiple, required=False
    )
    weekly = forms.BooleanField(label="The owner’s letter of the week too", required=False)


def letters(request: HttpRequest) -> HttpResponse:
    """List who gets which parts of the night's e-mail, and change one."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    people = {str(one.pk): one for one in shop_row.active_recipients()}
    sent = here.POST.get("who", "") if here.method == "POST" else ""
    rows = []
    failed = None
    for key, one in people.items():
        first = {"parts": one.parts or list(headline.ORDER), "weekly": one.weekly}
        form = LettersForm(here.POST if key == sent else None, shop=shop, initial=first, auto_id=f"{key}_%s")
        if key == sent and form.is_valid():
            done = posting.book(here, form, lambda who, one=one, form=form: _choose(one, form, who))  # type: ignore[misc]
            if done:
                return done
        failed = form if form.is_bound else failed
        rows.append((one, form))
    return posting.sheet(here, "staff/access/letters.html", "day", {"rows": rows}, form=failed)


def _choose(one: Recipient, form: LettersForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    if not typed["parts"] and not typed["weekly"]:
        raise Invalid.field("parts", "Gets: tick one part at least, or take the recipient off the settings.")
    buying_settings.choose_letters(
        one, typed["parts"], weekly=typed["weekly"], known=headline.ORDER, at=who.at, by=who.by.label
    )
    return reverse("staff:settings_letters"), f"Kept for {one.email}."

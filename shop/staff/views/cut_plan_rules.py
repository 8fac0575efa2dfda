"""How the shop cuts: what losses count in a cut plan, and the saws with their blades."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Blade
from inventory.queries import cut_question
from inventory.services import saws
from shop.shared import shop_row
from shop.shared.units import as_taped
from shop.staff import posting
from shop.staff.views.asking import Ask, ask
from shop.staff.views.cut_plan_forms import BladeForm, RulesForm, rules_typed
from shop.staff.views.rack import ROOM


def rules(request: HttpRequest) -> HttpResponse:
    """Show and change how the shop plans its cuts."""
    here = posting.here_of(request)
    form = RulesForm(
        here.POST if here.method == "POST" else None,
        initial=rules_typed(cut_question.rules()),
        shop=shop_row.the_shop(),
    )

    def act(who: posting.Doing) -> tuple[str, str]:
        saws.save_rules(form.rules(), at=who.at, by=who.by)
        return reverse("staff:cut_plans"), "The rules hold for plans asked for from now on."

    lead = "A plan loses least where scrap, and what these count as, come to the shortest length."
    asked = Ask("How the shop cuts", lead, "Keep these rules", reverse("staff:cut_plans"), "Back to the cut plans",
                room=ROOM, part="Rules")  # fmt: skip
    return ask(here, form, asked, act)


def blade(request: HttpRequest, number: int = 0) -> HttpResponse:
    """Write down a saw with its blade, new or measured anew."""
    here = posting.here_of(request)
    found = Blade.objects.filter(pk=number).first() if number else Blade()
    if found is None:
        return posting.not_there(here)
    initial = {"name": found.name, "kerf": as_taped(found.kerf_nm), "measured_on": found.measured_on,
               "tail_hold": as_taped(found.tail_hold_nm) if found.tail_hold_nm else ""} if number else {}  # fmt: skip
    form = BladeForm(here.POST if here.method == "POST" else None, initial=initial, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        found.name, found.kerf_nm, found.measured_on = typed["name"], typed["kerf"], typed["measured_on"]
        found.tail_hold_nm = typed["tail_hold"] or 0
        kept = saws.save_blade(found, at=who.at, by=who.by)
        return reverse("staff:cut_plans"), f"{kept.name}: one cut takes {as_taped(kept.kerf_nm)}."

    lead = "Measure it where it cuts: a blade takes more than it is thick."
    asked = Ask(found.name or "A saw and its blade", lead, "Write it down", reverse("staff:cut_plans"),
                "Back to the cut plans", room=ROOM, part="Blade")  # fmt: skip
    return ask(here, form, asked, act)

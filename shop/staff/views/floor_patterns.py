"""Patterns, their routes, and what the shop's own counts have taught about them."""

import datetime as dt
from decimal import Decimal
from fractions import Fraction

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.calc import blank_length
from inventory.calc.reject_charts import worst_first
from inventory.models import Item, Pattern, RecipePart, Route, Step
from inventory.queries import along, learned, running_costs, weight_kept
from inventory.queries.along import Walk
from inventory.queries.learned import Learned
from inventory.services import patterns as patterns_kept
from inventory.services import routes
from shop.access.roles import DESK, reaches
from shop.shared import clock, shop_row, units
from shop.staff import posting, wording
from shop.staff.fields import SlipForm
from shop.staff.ruled import Column, Ruled
from shop.staff.views.counter_history import link
from shop.staff.views.floor import ROOM
from shop.staff.views.floor_pattern_forms import AfreshForm, PatternForm, RouteForm

YEAR = dt.timedelta(days=365)


def patterns(request: HttpRequest) -> HttpResponse:
    """List the patterns with how many of a hundred come good."""
    here = posting.here_of(request)
    columns = [Column("pattern"), Column("good of 100", figures=True), Column("counted", figures=True), Column("route")]
    rows = []
    for pattern in Pattern.objects.order_by("code"):
        route = Route.objects.filter(pattern=pattern).order_by("-version").first()
        known = learned.rates(pattern, along.walk(route)) if route else []
        whole = 1.0
        for one in known:
            whole *= one.point.mean
        counted = sum(one.good + one.rejected + one.reworked for one in known)
        name = link("staff:floor_pattern", pattern.name, pattern.code)
        good = str(round(100 * whole)) if known else ""
        rows.append([name, good, wording.figures(counted), f"version {route.version}" if route else "no route yet"])
    return posting.sheet(
        here,
        "staff/floor/patterns.html",
        ROOM,
        {"table": Ruled("Patterns", columns, rows), "desk": reaches(here.acting_role, DESK)},
    )


def pattern(request: HttpRequest, code: str) -> HttpResponse:
    """Show a pattern: its route, its figures, what is learned; the desk changes them."""
    here = posting.here_of(request)
    found = Pattern.objects.filter(code=code).first()
    if found is None:
        return posting.not_there(here)
    shop = shop_row.the_shop()
    route = Route.objects.filter(pattern=found).order_by("-version").first()
    walk = along.walk(route) if route else None
    asked = here.POST.get("do") if here.method == "POST" else None
    facts_form = PatternForm(here.POST if asked == "facts" else None, shop=shop, initial=_initial(found))
    route_form = RouteForm(here.POST if asked == "route" else None, shop=shop)
    afresh = AfreshForm(here.POST if asked == "afresh" else None, shop=shop)
    afresh.fields["point"].choices = [(s.name, s.name) for s in walk.points] if walk else []  # type: ignore[attr-defined]
    form: SlipForm | None = {"facts": facts_form, "route": route_form, "afresh": afresh}.get(asked or "")
    if form is not None and form.is_valid() and reaches(here.acting_role, DESK):
        done = posting.book(here, form, lambda who: _change(found, form, who), names=_NAMES)
        if done:
            return done
    known = learned.rates(found, walk) if walk else []
    facts = {
        "pattern": found,
        "items": Item.objects.filter(pattern=found).order_by("kind", "code"),
        "walk": walk,
        "route": route,
        "learned": _learned_table(known),
        "steps": _steps_table(walk, found if reaches(here.acting_role, DESK) else None) if walk else None,
        "facts_form": facts_form,
        "route_form": route_form,
        "afresh": afresh,
        "desk": reaches(here.acting_role, DESK),
        "kept": _kept(found),
        "blank_said": _blank_said(found),
        "costs": _costs(found, walk, shop.currency) if walk and here.may.see_costs else None,
        "causes": _causes(found, shop.currency if here.may.see_costs else ""),
        "minutes": _minutes(found, walk) if walk else None,
        "uses": _uses(walk) if walk else None,
    }
    return posting.sheet(here, "staff/floor/pattern.html", ROOM, facts, form=form)


_NAMES = {
    "head_mass_mg": "head_mass", "light_below_mg": "light_below", "heavy_above_mg": "heavy_above", "loss_ppm": "loss",
    "steps": "seed", "uses": "use_0",
}  # fmt: skip


def _initial(found: Pattern) -> dict[str, object]:
    weights = {
        "head_mass": found.head_mass_mg,
        "light_below": found.light_below_mg,
        "heavy_above": found.heavy_above_mg,
    }
    return {
        **{name: _typed_weight(mg) for name, mg in weights.items() if mg is not None},
        "loss": f"{found.loss_ppm / 10_000:g}",
        "hard_low": f"{found.hard_low / 10:g}" if found.hard_low is not None else "",
        "hard_high": f"{found.hard_high / 10:g}" if found.hard_high is not None else "",
        "hard_source": found.hard_source,
        "aim": found.aim,
        "crack_check": found.crack_check,
        "usual_run": found.usual_run,
        "most_run": found.most_run,
        "labour": units.amount(found.labour_minor_per_hour, 2).replace("\u2009", "")
        if found.labour_minor_per_hour
        else "",
    }


def _typed_weight(mg: int) -> str:
    """Write a weight as it was typed, most likely: in pounds where it is quarter ounces, else in kilograms to the mg."""
    quarters = round(Fraction(64 * mg, units.MG_PER_LB))
    if quarters and units.parse_mass(f"{quarters / 64:.6f} lb").mg == mg:
        return f"{quarters / 64:.6f}".rstrip("0").rstrip(".") + " lb"
    return f"{Decimal(mg) / 1_000_000:f} kg"


def _change(found: Pattern, form: SlipForm, who: posting.Doing) -> tuple[str, str]:
    typed, address = form.cleaned_data, reverse("staff:floor_pattern", args=[found.code])
    if isinstance(form, RouteForm):
        heads = Item.objects.filter(pattern=found, kind=Item.Kind.HEAD)
        hafted = RecipePart.objects.filter(tool__recipe__part__in=heads, part__kind=Item.Kind.HANDLE).exists()
        made = routes.seed_route(
            found,
            typed["seed"],
            at=who.at,
            by=who.by,
            new=typed["new"],
            tooling=typed["tooling"],
            tool=hafted,
            uses=form.uses(),
        )
        return address, f"{found.name} goes a new way from the next run on, version {made.version}."
    if isinstance(form, AfreshForm):
        routes.count_afresh(found, typed["point"], at=who.at, by=who.by)
        return address, f"{typed['point'].capitalize()} is counted afresh from now."
    mg = {name: typed[name].mg if typed[name] else None for name in ("head_mass", "light_below", "heavy_above")}
    patterns_kept.give_items(found, patterns_kept.named_items(typed["items"]), at=who.at, by=who.by)
    patterns_kept.change_pattern(
        found, at=who.at, by=who.by, head_mass_mg=mg["head_mass"], light_below_mg=mg["light_below"],
        heavy_above_mg=mg["heavy_above"], loss_ppm=typed["loss"], hard_low=typed["hard_low"],
        hard_high=typed["hard_high"], hard_source=typed["hard_source"], aim=typed["aim"],
        crack_check=typed["crack_check"], labour_minor_per_hour=typed["labour"] or 0,
        usual_run=typed["usual_run"], most_run=typed["most_run"],
    )  # fmt: skip
    return address, f"{found.name} is changed."


def _learned_table(known: list[Learned]) -> Ruled:
    columns = [
        Column("counting point"), Column("good of 100", figures=True), Column("between", figures=True),
        Column("good", figures=True), Column("rejected", figures=True), Column("worked over", figures=True),
        Column("since"),
    ]  # fmt: skip
    rows = []
    for one in known:
        mean, low, high = one.of_hundred
        since = wording.on_day(one.step.afresh_from.date()) if one.step.afresh_from else "the first count"
        rows.append(
            [one.step.name, str(mean), f"{low} to {high}", wording.figures(one.good), wording.figures(one.rejected),
             wording.figures(one.reworked), since]
        )  # fmt: skip
    return Ruled("What is learned at each counting point", columns, rows)


def _steps_table(walk: Walk, changed_of: Pattern | None) -> Ruled:
    columns = [
        Column("step"), Column("counted"), Column("minutes each", figures=True), Column("people"),
        Column("what it takes"), Column("causes of reject"),
    ]  # fmt: skip
    rows = []
    for step in walk.steps:
        takes = [machine.name for machine in step.machines.order_by("code")]
        takes += [step.tooling.name] if step.tooling else []
        takes += [f"{step.temperature_dc / 10:.0f} °C"] if step.temperature_dc else []
        takes += [f"{step.soak_minutes} min soak"] if step.soak_minutes else []
        takes += [f"cure {step.cure_minutes / 60:g} h"] if step.cure_minutes else []
        takes += [f"{step.oven_fits} fill the oven"] if step.oven_fits else []
        causes = ", ".join(cause.name for cause in step.causes.order_by("pk"))
        minutes = f"{step.seconds_each / 60:.1f} ± {step.spread_percent} %" if step.seconds_each else ""
        name = f"{step.name}, if wanted" if step.optional else step.name
        said = link("staff:floor_step", name, changed_of.code, step.number) if changed_of else name
        rows.append([said, "yes" if step.counting_point else "", minutes, _who(step), ", ".join(takes), causes])
    return Ruled("The route, step by step", columns, rows)


def _who(step: Step) -> str:
    """Say how many people a step takes, and who can do it where not everybody can."""
    names = ", ".join(step.hands.order_by("name").values_list("name", flat=True))
    return f"{step.people} of {names}" if names else str(step.people)


def _kept(found: Pattern) -> str:
    loss = weight_kept.loss(found)
    if loss is None:
        return ""
    if not loss.learned:
        left = blank_length.ENOUGH_HEADS - loss.heads
        return f"{loss.ppm / 10_000:.0f} % lost from blank to head, taken as usual; {left} more weighed heads and it is learned."
    return f"{loss.ppm / 10_000:.1f} ± {loss.spread_ppm / 10_000:.1f} % lost from blank to head, from {loss.heads} weighed heads."


def _blank_said(found: Pattern) -> str:
    """Say how long the blank should be for the wanted head, beside how long it is sawn now."""
    blank, wanted = weight_kept.blank_of(found), weight_kept.length_wanted_nm(found)
    if blank is None or wanted is None or not blank.blank_length_nm:
        return ""
    gives = weight_kept.head_from_blank_mg(found)
    said = f"For that head the blank should be {units.as_taped(_sixteenth(wanted))}; it is sawn {units.as_taped(blank.blank_length_nm)}"
    return f"{said}, which gives about {units.mass_lb(gives)} bare." if gives else f"{said}."


def _sixteenth(nm: int) -> int:
    """Round a length up to the next sixteenth of an inch, as a stop is set."""
    step = units.NM_PER_INCH // 16
    return -(-nm // step) * step


def _costs(found: Pattern, walk: Walk, currency: str) -> Ruled:
    columns = [Column("a reject found at"), Column("has cost", figures=True)]
    steel = running_costs.steel_each(found)
    rows = [[one.step.name, units.money(one.reject, currency)] for one in running_costs.by_step(found, walk, steel)]
    return Ruled("What a reject costs at each counting point", columns, rows)


def _causes(found: Pattern, currency: str) -> Ruled:
    """Put the causes in the order of what they cost, for those who see costs; else of how many pieces."""
    counted = learned.causes(since=clock.now() - YEAR, pattern=found)
    names = {f"{cause} at {point}": qty for (point, cause), qty in counted.items()}
    cost = running_costs.reject_costs(counted, found) if currency else {}
    columns = [Column("cause"), Column("pieces", figures=True), Column("of all so far", figures=True)]
    columns += [Column("have cost", figures=True)] if currency else []
    rows = [
        [name, wording.figures(names[name]), f"{round(100 * share)} in 100", *(
            [units.money(cost[name], currency)] if currency else []
        )]
        for name, _, share in worst_first(cost or names)
    ]  # fmt: skip
    return Ruled("Worst causes first, last twelve months", columns, rows)


def _minutes(found: Pattern, walk: Walk) -> Ruled | None:
    rows = [
        [one.step.name, f"{one.by_the_clock:.1f}", f"± {one.pace.spread_percent} %", str(one.pace.records)]
        for one in learned.minutes(found, walk)
        if one.pace.records
    ]
    columns = [Column("counting point"), Column("minutes each", figures=True), Column("spread"), Column("counts", figures=True)]  # fmt: skip
    return Ruled("Minutes learned from counts that said how long", columns, rows) if rows else None


def _uses(walk: Walk) -> Ruled | None:
    rows = [
        [use.item.name, step.name, wording.amount(use.item, use.per_hundred)]
        for step in walk.steps
        for use in step.uses.select_related("item").order_by("pk")
    ]
    columns = [Column("what"), Column("at"), Column("for 100 pieces", figures=True)]
    return Ruled("What the steps use up", columns, rows) if rows else None

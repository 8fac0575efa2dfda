"""Cut plans on the Rack: what is asked, what the worker found, what is taken to the saw, and what came of it."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Bar, Blade, CutPlan, CutPlanBar, Grade, Holding, Item, Section
from inventory.queries import cut_question, rack
from inventory.services import delivery_lines, steel_items
from inventory.services.cut_asking import Question, Wanted
from orders.queries import blanks_wanted
from orders.queries.blanks_wanted import Need
from shop.access.roles import DESK, reaches
from shop.flows import cut_plans
from shop.flows.cut_plans import AtTheSaw
from shop.shared import shop_row, units
from shop.shared.errors import Invalid
from shop.shared.units import as_taped
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views import bought_bars, door_words
from shop.staff.views import cut_plan_drawn as drawing
from shop.staff.views import cut_plan_words as words
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link
from shop.staff.views.cut_plan_forms import AskForm, LeftForm
from shop.staff.views.rack import ROOM, scale

State = CutPlan.State
_LOOK_AGAIN = 2  # seconds until a page about a plan that is being worked out is fetched anew
_METRE_NM = 10**9
_BUYS = (State.ANSWERED, State.TAKEN)
_DRAWN_ON_PAPER = 7  # more bars than that go on one page as a table


def plans(request: HttpRequest) -> HttpResponse:
    """List the plans: to saw, to look at, being worked out; and those of the last weeks."""
    here = posting.here_of(request)
    columns = [Column("plan"), Column("steel"), Column("how far"), Column("asked for")]
    zone = shop_row.the_shop().zone

    def table(caption: str, states: Sequence[str]) -> Ruled:
        rows = [
            [
                link("staff:cut_plan", str(plan.number), plan.number),
                plan.item.name,
                _how_far(plan),
                wording.at_moment(plan.asked_at, zone),
            ]
            for plan in cut_question.plans(states)
        ]
        return Ruled(caption, columns, rows)

    steels = Item.objects.filter(kind=Item.Kind.BAR, stock__sellable__gt=0).order_by("name")
    facts = {
        "open": table("Plans that wait", [State.TAKEN, State.ANSWERED, State.ASKED]),
        "done": table("Plans that are done", [State.SAWN, State.DROPPED]),
        "steels": list(steels),
        "blades": Blade.objects.filter(active=True).order_by("name"),
    }
    return posting.sheet(here, "staff/rack/plans.html", ROOM, facts)


def _how_far(plan: CutPlan) -> str:
    said = {State.ASKED: "being worked out", State.ANSWERED: "to look at", State.TAKEN: "to saw"}
    return said.get(State(plan.state), plan.state)


def new(request: HttpRequest, code: str) -> HttpResponse:
    """Ask for a plan of one steel: what orders want stands there already."""
    here = posting.here_of(request)
    steel = Item.objects.filter(code=code, kind=Item.Kind.BAR).select_related("grade", "section").first()
    if steel is None:
        return posting.not_there(here)
    blanks = rack.blanks_of([steel])[steel.pk]
    needs = blanks_wanted.for_blanks(blanks)
    shop = shop_row.the_shop()
    blades = list(Blade.objects.filter(active=True).order_by("name"))
    sold = bought_bars.buyable(steel.pk, steel.supplier_id, shop.currency)
    form = AskForm(
        here.POST if here.method == "POST" else None, blanks=blanks, needs=needs, blades=blades, shop=shop,
        initial={"buy": sold},
    )  # fmt: skip

    def act(who: posting.Doing) -> tuple[str, str]:
        counts = form.counts()
        wanted = [one for blank in blanks for one in _lines(blank, counts.get(blank.pk, 0), needs.get(blank.pk, ()))]
        other = form.other_nm()
        if other and steel.grade and steel.section:
            blank = steel_items.blank_item(steel.grade, steel.section, other, at=who.at, by=who.by)
            wanted.append(Wanted(blank, form.cleaned_data["count_other"]))
        question = Question(
            steel,
            wanted,
            shop.kerf_nm,
            blade=form.blade(),
            buyable=form.buyable(units.money_exponent(shop.currency)),
            seconds=int(form.cleaned_data["seconds"]),
        )
        plan = cut_plans.ask(question, at=who.at, by=who.by)
        return reverse("staff:cut_plan", args=[plan.number]), f"Cut plan {plan.number} is being worked out."

    names = {"pieces": f"count_{blanks[0].pk}"} if blanks else {"pieces": "saw"}
    lead = (
        "How many blanks of each. What orders wait for is filled in." if blanks else "No blank is sawn from this steel."
    )
    asked = Ask(f"Plan cuts: {steel.name}", lead, "Ask for a plan", reverse("staff:rack"), "Back to the Rack",
                room=ROOM, part="Wanted")  # fmt: skip
    return ask(here, form, asked, act, names=names)


def _lines(blank: Item, count: int, needs: Sequence[Need]) -> list[Wanted]:
    """Split a count over the days the orders were given, the earliest first; what is over has no day."""
    by_day: dict[Any, list[Need]] = {}
    for need in sorted(needs, key=lambda one: (one.day is None, one.day)):
        by_day.setdefault(need.day, []).append(need)
    wanted = []
    for day, group in by_day.items():
        take = min(count, sum(need.count for need in group))
        if take:
            orders = ", ".join(f"order {need.order}" for need in group)
            wanted.append(Wanted(blank, take, day, orders if len(orders) <= 100 else "orders"))
            count -= take
    return [*wanted, Wanted(blank, count)] if count else wanted


def plan(request: HttpRequest, number: int) -> HttpResponse:
    """Show a plan as far as it is, and take it, saw it as drawn or drop it."""
    here = posting.here_of(request)
    found = CutPlan.objects.select_related(
        "item__grade", "item__section", "item__supplier", "blade", "asked_by"
    ).filter(number=number)
    shown = found.first()
    if shown is None:
        return posting.not_there(here)
    form = LeftForm(here.POST if here.method == "POST" else None, bars=_to_saw(shown), shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _go_on(shown, form, here.POST, who))
        if done:
            return done
    answer = posting.sheet(
        here, "staff/rack/plan.html", ROOM, {"desk": reaches(here.acting_role, DESK), **_facts(shown, form)}, form=form
    )
    if shown.state == State.ASKED:
        answer["Refresh"] = str(_LOOK_AGAIN)
    return answer


def _to_saw(found: CutPlan) -> list[CutPlanBar]:
    return list(found.bars.filter(state=CutPlanBar.State.TO_SAW).select_related("bar").order_by("pk"))


def _go_on(found: CutPlan, form: LeftForm, sent: Mapping[str, Any], who: posting.Doing) -> tuple[str, str]:
    version = units.plain_number(sent.get("version"))
    to = reverse("staff:cut_plan", args=[found.number])
    if "drop" in sent:
        count = cut_plans.drop(found.number, version=version, at=who.at, by=who.by)
        return reverse("staff:cut_plans"), f"Cut plan {found.number} is dropped; {_bars(count)} free again."
    if "take" in sent:
        choice = units.plain_number(sent["take"])
        if choice is None:
            raise Invalid.field("answer", "Answer: press the button under one of the plans.")
        bars = cut_plans.take(found.number, choice - 1, version=version, at=who.at, by=who.by)
        return to, f"Cut plan {found.number} is taken; {_bars(len(bars))} set aside for the saw."
    done = [AtTheSaw(bar.bar.number, left=form.left(bar)) for bar in form.bars]
    made = cut_plans.sawn(found.number, done, version=version, stamp=who.stamp())
    pieces = sum(one.cut.pieces for one in made)
    kept = [lot.bar.number for one in made for lot in one.lots if lot.item.kind == Item.Kind.BAR]
    paint = f" Paint {', '.join(kept)} on what stays." if kept else ""
    return to, f"{wording.figures(pieces)} blanks are in the book.{paint}"


def _bars(count: int) -> str:
    return "1 bar is" if count == 1 else f"{count} bars are"


def _facts(found: CutPlan, form: LeftForm) -> dict[str, object]:
    lines = cut_question.lines_of(found)
    bars = list(found.bars.select_related("bar", "cut").order_by("pk"))
    answers = found.answers if found.chosen is None else [found.answers[found.chosen]]
    if found.state == State.ASKED and found.so_far:
        answers = [found.so_far]
    longest = max((row["length_nm"] for one in answers for row in one["bars"]), default=1)
    states = {bar.bar.number: bar for bar in bars}
    stands = _stands([row["bar"] for one in answers for row in one["bars"]])
    shop = shop_row.the_shop()
    shown = [
        {
            "number": number,
            "title": words.title(one),
            "drawn": [
                (bar, states.get(bar.number), stands.get(bar.number, ""))
                for bar in drawing.drawn(found, one["bars"], lines, longest, key=number)
            ],
            "costs": drawing.costs(found, one["bars"], lines),
            "proof": words.proof(one),
            "missing": words.missing(found, one, lines),
            "buy": words.to_buy(one, found, shop.currency),
            "order": bought_bars.order_address(found, one, shop.currency) if found.state in _BUYS else "",
            "sawable": any(not row["bought"] for row in one["bars"]),
        }
        for number, one in enumerate(answers, 1)
    ]
    per_metre = mg_per_metre(found.item)
    masses = [row["length_nm"] * per_metre // _METRE_NM for one in answers for row in one["bars"]]
    return {
        "plan": found,
        "lines": lines,
        "blanks": sum(line.count for line in lines),
        "orders": found.purchase_orders.order_by("number"),
        "answers": shown,
        "compared": words.compared(found, answers, per_metre) if len(answers) > 1 else None,
        "scale": scale(longest),
        "heavy": door_words.heaviest(masses),
        "left_form": form,
        "kerf": as_taped(found.kerf_nm),
        "gone": (gone := [bar for bar in bars if bar.state == CutPlanBar.State.LEFT]),
        "lacking": sum(len(bar.pieces) for bar in gone),
        "waiting": [bar for bar in bars if bar.state == CutPlanBar.State.TO_SAW],
    }


def _stands(numbers: Sequence[str]) -> dict[str, str]:
    """Say of bars which mill heat they are of and where they stand."""
    found = Bar.objects.filter(number__in=numbers).select_related("lot__melt")
    slots = dict(
        Holding.objects.filter(lot__bar__number__in=numbers, on_hand__gt=0).values_list(
            "lot__bar__number", "place__name"
        )
    )
    return {
        bar.number: f"Mill heat {rack.heat_of(bar.lot)}" + (f", {slots[bar.number]}." if bar.number in slots else ".")
        for bar in found
    }


def mg_per_metre(item: Item) -> int:
    """Return what a metre of a bar weighs, mg."""
    grade, section = item.grade, item.section
    assert isinstance(grade, Grade)
    assert isinstance(section, Section)
    return delivery_lines.mass_of(section, _METRE_NM, grade.density_ug_per_cm3)


def sheet(request: HttpRequest, number: int) -> HttpResponse:
    """Print the cut sheet of a plan that was taken: bars to scale, and room to write what came of each."""
    here = posting.here_of(request)
    found = CutPlan.objects.select_related("item", "blade").filter(number=number, chosen__isnull=False).first()
    if found is None:
        return posting.not_there(here)
    lines = cut_question.lines_of(found)
    rows = [row for row in found.answers[found.chosen or 0]["bars"] if not row["bought"]]
    longest = max((row["length_nm"] for row in rows), default=1)
    stands = _stands([row["bar"] for row in rows])
    facts = {
        "plan": found,
        "lines": lines,
        "drawn": [(bar, stands.get(bar.number, "")) for bar in drawing.drawn(found, rows, lines, longest)],
        "many": len(rows) > _DRAWN_ON_PAPER,
        "kerf": as_taped(found.kerf_nm),
    }
    return posting.sheet(here, "staff/paper/cut_sheet.html", ROOM, facts)

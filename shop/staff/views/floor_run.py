"""A run: where it stands, what was counted, what it went through; parted, joined, topped up, undone, and its paper."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from inventory.models import CountReject, Item, LoadLot, Run
from inventory.queries import along, running_costs, runs, short_runs, tooling
from inventory.queries.runs import Row
from inventory.queries.short_runs import Short
from inventory.services import run_counting
from orders.models import RunForLine
from orders.queries import options_wanted
from shop.flows import floor as flow
from shop.flows import reversing
from shop.shared import clock, shop_row, units
from shop.shared.errors import Invalid
from shop.shared.hours import Hours
from shop.staff import posting, wording
from shop.staff.fields import SlipForm, Whole, Words
from shop.staff.views import floor_words as words
from shop.staff.views.asking import Ask, ask
from shop.staff.views.floor import ROOM, address_of
from shop.staff.views.floor_count import window

_CAUTIONS = (
    ("harden", "Hardened and not tempered is glass-hard: do not strike, drop or haft it. Temper at once."),
    ("harden", "Oil quench: right under the surface, lid and extinguisher at hand, no water near the oil."),
    ("forge", "Ram blocked and power off before hands go in at a tooling change. Goggles and hearing protection."),
    ("grind", "Goggles and dust mask at the grinder; wood and steel dust apart."),
    ("oil", "Oily rags heat up by themselves: flat outdoors or in a lidded metal can, emptied daily."),
)


class TopUpForm(SlipForm):
    """More pieces for a run that is short."""

    more = Whole(label="Start so many more")


class PartForm(SlipForm):
    """So many pieces go on under a code of their own."""

    step = forms.ChoiceField(label="Those that stand")
    qty = Whole(label="How many")


class JoinForm(SlipForm):
    """A run goes on under another's code."""

    into = forms.ChoiceField(label="Goes on as run")


class UndoForm(SlipForm):
    """A count is taken back."""

    entry = Whole(label="Line of the book", most=2**31)


class CauseForm(SlipForm):
    """Why pieces were no good, said after they were counted."""

    reject = Whole(label="Rejects", most=2**31)
    cause = Words(longest=40, label="It was", required=True)


def run(request: HttpRequest, code: str) -> HttpResponse:
    """Show a run, top it up, or take a line of it back."""
    here, found = posting.here_of(request), runs.find(code)
    if found is None:
        return posting.not_there(here)
    if found.joined_into_id and found.joined_into:
        return HttpResponseRedirect(reverse("staff:floor_run", args=[found.joined_into.code]))
    shop = shop_row.the_shop()
    undoing = here.method == "POST" and "entry" in here.POST
    top_up = TopUpForm(here.POST if here.method == "POST" else None, shop=shop)
    form: SlipForm = top_up
    if undoing:
        form = UndoForm(here.POST, shop=shop)
    elif here.method == "POST" and "reject" in here.POST:
        form = CauseForm(here.POST, shop=shop)
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _act(found, form, who), names={"qty": "more"})
        if done:
            return done
    costs = _cost(found, shop.currency) if here.may.see_costs else ""
    return posting.sheet(here, "staff/floor/run.html", ROOM, {**_facts(found, form), "costs": costs}, form=form)


def _act(found: Run, form: SlipForm, who: posting.Doing) -> tuple[str, str]:
    address = reverse("staff:floor_run", args=[found.code])
    if isinstance(form, UndoForm):
        entry = form.cleaned_data["entry"]
        undone = reversing.reverse(entry, stamp=who.stamp(reason="a count taken back"))
        said = f"Line {wording.figures(entry)} is undone by line {wording.figures(undone.entry.pk)}."
        return address, said
    if isinstance(form, CauseForm):
        asked = CountReject.objects.filter(count__run=found, pk=form.cleaned_data["reject"]).first()
        if asked is None:
            raise Invalid.field("reject", "Rejects: these are not of this run; look at its counts again.")
        named = run_counting.name_cause(asked, form.cleaned_data["cause"], at=who.at, by=who.by)
        return address, f"{words.pieces(named.qty)} of {found.code}: {form.cleaned_data['cause']}."
    qty = form.cleaned_data["more"]
    flow.top_up(found, blank_of(found), qty, stamp=who.stamp())
    return address, f"{wording.figures(qty)} more of {found.code} are started."


def blank_of(found: Run) -> Item:
    """Return the blank of a run's pattern that lies sawn of its mill heat, else any blank of it."""
    blanks = Item.objects.filter(kind=Item.Kind.BLANK, pattern=found.pattern_id)
    sawn = blanks.filter(holdings__lot__melt=found.melt_id, holdings__on_hand__gt=0, holdings__place__sellable=True)
    return sawn.order_by("pk").first() or blanks.order_by("pk")[0]


def _facts(found: Run, form: SlipForm) -> dict[str, object]:
    row, shop = runs.row_of(found), shop_row.the_shop()
    short = short_runs.short(found)
    return {
        "run": found,
        "row": row,
        "stands": _stands(row, shop_row.hours_of(shop, clock.now())),
        "counts": [_count_row(one) for one in runs.counts_of(found)],
        "loads": _loads(found),
        "short": short,
        "short_said": _short_said(short) if short else "",
        "more": min(short.more, short.blanks) if short else 0,
        "started": runs.started_of([found.pk]).get(found.pk, 0),
        "for_line": RunForLine.objects.filter(run=found).select_related("line__order").first(),
        "options": _options(found),
        "window": window(found),
        "form": form,
        "joinable": _joinable(found),
    }


def _options(found: Run) -> list[str]:
    """Say which lines want something of their own: order 41: 2 × cross peen 2 lb, with 16 in handle."""
    lines = options_wanted.of_pattern(found.pattern)
    left = [(line, line.ordered - line.cancelled - line.shipped) for line in lines]
    return [f"order {line.order.number}: {wording.figures(n)} × {wording.line_name(line)}" for line, n in left]


def _cost(found: Run, currency: str) -> str:
    """Say what a run has cost so far and where it went."""
    cost = running_costs.of_run(found)
    said = f"Steel {units.money(cost.steel, currency)}, work and what it used up {units.money(cost.work, currency)}."
    if cost.each is not None:
        said += f" A good head has cost {units.money(cost.each, currency)}."
    if cost.apart:
        said += f" Rejects beyond the usual: {units.money(cost.apart, currency)}, kept apart."
    return said


def _stands(row: Row | None, hours: Hours) -> list[tuple[int, str, str, str]]:
    if row is None:
        return []
    in_now = {one.tooling.pk for one in tooling.sets() if one.is_in}
    found = []
    for one in row.here:
        step = row.walk.numbered(one.step)
        why = words.waits(row, one, now=clock.now(), hours=hours, tooling_in=in_now)
        found.append((one.qty, step.name if step else "sawn", why, address_of(row, one)))
    return found


def _count_row(one: Any) -> dict[str, object]:
    undone = getattr(one.entry, "reversed_by", None) is not None
    unknown = [] if undone else [reject for reject in one.rejects.all() if reject.cause is None]
    causes = [cause.name for cause in one.step.causes.filter(handle_only=False).order_by("pk")] if unknown else []
    return {
        "count": one,
        "said": words.counted(one),
        "undone": undone,
        "unknown": unknown if causes else [],
        "causes": causes,
    }


def _loads(found: Run) -> list[LoadLot]:
    held = LoadLot.objects.filter(lot__run=found, load__entry__reversed_by=None)
    return list(held.select_related("load", "lot").order_by("load_id", "pk"))


def _short_said(short: Short) -> str:
    head = (
        f"Run {short.run.code} is likely {short.missing} short of {short.run.wanted}"
        if short.missing
        else f"{short.run.wanted} good of run {short.run.code} come only {words.in_hundred(short.chance)}"
    )
    return f"{head}, and the tooling is still in." if short.tooling_in else f"{head}."


def _joinable(found: Run) -> list[Run]:
    same = Run.objects.filter(melt=found.melt_id, route=found.route_id, item=found.item_id, joined_into=None)
    return [row.run for row in runs.open_rows(same.exclude(pk=found.pk))]


def part(request: HttpRequest, code: str) -> HttpResponse:
    """Part a run: some of its pieces go on under a code of their own."""
    here, found = posting.here_of(request), runs.find(code)
    if found is None:
        return posting.not_there(here)
    form = PartForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    walk = along.walk(found.route)
    there: dict[int, int] = {}
    for holding in along.on_floor(found):
        there[holding.step] = there.get(holding.step, 0) + holding.on_hand
    form.fields["step"].choices = [  # type: ignore[attr-defined]
        (str(step), f"{qty} at {stood.name if (stood := walk.numbered(step)) else 'the saw'}")
        for step, qty in sorted(there.items())
    ]

    def act(who: posting.Doing) -> tuple[str, str]:
        made = flow.split(found, int(form.cleaned_data["step"]), form.cleaned_data["qty"], stamp=who.stamp())
        said = f"{form.cleaned_data['qty']} of {found.code} go on as {made.code}. Strike the new code on them."
        return reverse("staff:floor"), said

    back = reverse("staff:floor_run", args=[found.code])
    lead = "The pieces get a code of their own; their steel and their steps stay."
    asked = Ask(f"Part run {found.code}", lead, "Part them", back, f"Back to {found.code}", room=ROOM, part="Part")
    return ask(here, form, asked, act)


def join(request: HttpRequest, code: str) -> HttpResponse:
    """Let a run go on under the code of another of the same mill heat."""
    here, found = posting.here_of(request), runs.find(code)
    if found is None:
        return posting.not_there(here)
    form = JoinForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    form.fields["into"].choices = [(one.code, one.code) for one in _joinable(found)]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        into = runs.find(form.cleaned_data["into"])
        assert into is not None
        flow.join(found, into, stamp=who.stamp())
        return reverse("staff:floor_run", args=[into.code]), f"Run {found.code} goes on as {into.code}."

    back = reverse("staff:floor_run", args=[found.code])
    lead = "Both must be of one mill heat and one route, and the code must not be struck yet."
    asked = Ask(f"Join run {found.code}", lead, "Join them", back, f"Back to {found.code}", room=ROOM, part="Join")
    return ask(here, form, asked, act)


def sheet(request: HttpRequest, code: str) -> HttpResponse:
    """Print the run sheet: what it is, its points with room to write, the cautions, and a code to count by."""
    here, found = posting.here_of(request), runs.find(code)
    if found is None:
        return posting.not_there(here)
    walk = along.walk(found.route)
    work = {step.work for step in walk.steps}
    facts = {
        "run": found,
        "started": runs.started_of([found.pk]).get(found.pk, 0),
        "steps": [(step, list(step.causes.order_by("pk"))) for step in walk.steps],
        "cautions": [said for kind, said in _CAUTIONS if kind in work],
        "window": window(found),
        "for_line": RunForLine.objects.filter(run=found).select_related("line__order").first(),
        "options": _options(found),
        "counts": runs.counts_of(found)[::-1],
        "address": reverse("staff:floor_count", args=[found.code]),
    }
    return posting.sheet(here, "staff/paper/run_sheet.html", ROOM, facts)


def tags(request: HttpRequest, code: str) -> HttpResponse:
    """Print the tag of a run's tools: its code and the caution for that kind of tool."""
    here, found = posting.here_of(request), runs.find(code)
    if found is None:
        return posting.not_there(here)
    tool = Item.objects.filter(kind=Item.Kind.TOOL, recipe__part=found.item_id).order_by("code").first()
    heat = f"mill heat {found.melt.heat_number}" if found.melt else ""
    label = {
        "huge": found.code,
        "address": reverse("staff:floor_run", args=[found.code]),
        "what": tool.name if tool else found.pattern.name,
        "note": heat,
        "hazard": tool.caution if tool else found.item.caution,
        "place": "Run",
    }
    return posting.sheet(here, "staff/paper/run_tags.html", ROOM, {"run": found, "label": label})

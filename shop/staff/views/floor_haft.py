"""At the vice and the packing bench: heads get handles, tools cure and are packed, handles are sorted."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from inventory.models import Item, Lot, RecipePart, Run, Step
from inventory.queries import along, runs
from inventory.services import hafting
from inventory.services.hafting import Hafted
from shop.access.middleware import Here
from shop.access.services import tablets
from shop.flows import floor as flow
from shop.flows import giving_way
from shop.flows.floor import Done
from shop.shared import shop_row
from shop.staff import posting, signing, wording
from shop.staff.fields import SlipForm, Whole, Words
from shop.staff.views import floor_words as words
from shop.staff.views.asking import Ask, ask
from shop.staff.views.floor import ROOM, parts_short
from shop.staff.views.floor_forms import HaftForm, PackForm

_RENAMED = {"good": "only", "rejects": "only", "handles_lost": "only", "qty": "only"}


def haft(request: HttpRequest, code: str) -> HttpResponse:
    """Fit handles to the finished heads of a run."""
    here, run = posting.here_of(request), runs.find(code)
    step = along.walk(run.route).of_work(Step.Work.HAFT) if run else None
    if run is None or step is None:
        return posting.not_there(here)
    heads = sum(holding.on_hand for holding in hafting.heads_on_shelf(run))
    tools = [
        part.tool for part in RecipePart.objects.filter(part=run.item_id).select_related("tool").order_by("tool__code")
    ]
    if not heads or not tools:
        return HttpResponseRedirect(reverse("staff:floor_run", args=[run.code]))
    form = HaftForm(
        here.POST if here.method == "POST" else None, step=step, causes=list(step.causes.order_by("pk")), stand=heads,
        shop=shop_row.the_shop(), initial={"tool": tools[0].code},
    )  # fmt: skip
    form.fields["tool"].choices = [(tool.code, tool.name) for tool in tools]  # type: ignore[attr-defined]
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _haft(run, tools, form, who), names=_RENAMED
        )
        if done:
            return done
    facts = {
        "heads": heads,
        "short": parts_short(runs.open_rows([run])).get(run.pk, ""),
        "unsorted": unsorted_said(tools),
        "one_tool": tools[0] if len(tools) == 1 else None,
    }
    return _sheet(here, "haft", run, step, form, facts)


def _haft(run: Run, tools: list[Item], form: HaftForm, who: posting.Doing) -> tuple[str, str]:
    seen, lost = form.seen()
    tool = next(one for one in tools if one.code == form.cleaned_data["tool"])
    stamp = who.stamp(happened_at=form.cleaned_data["happened_at"])
    done = flow.haft(run, Hafted(tool, seen, lost, form.cleaned_data["glued"]), stamp=stamp)
    zone = shop_row.the_shop().zone
    dry = max((lot.usable_from for lot in done.count.entry.lots_made.all() if lot.usable_from), default=None)
    until = f" Dry at {words.when(dry, who.at, zone)}." if dry and dry > who.at else ""
    return reverse("staff:floor"), _said(done) + until


def _said(done: Done) -> str:
    said = f"{done.count.run.code}: {words.counted(done.count)}, line {wording.figures(done.count.entry_id)}."
    gave = giving_way.said(list(done.gave_way))
    orders = ", ".join(str(number) for number in sorted({line.order.number for line in done.served}))
    return " ".join(part for part in (said, gave, f"Set aside for order {orders}." if orders else "") if part)


def unsorted_said(tools: list[Item]) -> str:
    """Say how many handles lie unsorted and how many of them are likely good."""
    found = hafting.unsorted([part.part for tool in tools for part in tool.recipe.select_related("part")])
    if not found.lying:
        return ""
    return f"{wording.figures(found.lying)} handles unsorted, expect {wording.figures(found.expected)} good."


def pack(request: HttpRequest, code: str) -> HttpResponse:
    """Pack the tools of a run that have cured."""
    here, run = posting.here_of(request), runs.find(code)
    step = along.walk(run.route).of_work(Step.Work.PACK) if run else None
    if run is None or step is None:
        return posting.not_there(here)
    curing = along.curing(run)
    if not curing:
        return HttpResponseRedirect(reverse("staff:floor_run", args=[run.code]))
    form = PackForm(
        here.POST if here.method == "POST" else None, step=step, causes=list(step.causes.order_by("pk")),
        stand=sum(h.on_hand for h in curing), shop=shop_row.the_shop(),
    )  # fmt: skip
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, lambda who: _pack(run, form, who), names=_RENAMED)
        if done:
            return done
    dry = max((h.lot.usable_from for h in curing if h.lot.usable_from), default=None)
    now = posting.doing(here).at
    facts = {
        "heads": sum(h.on_hand for h in curing),
        "dry": words.when(dry, now, shop_row.the_shop().zone) if dry and dry > now else "",
        "caution": curing[0].lot.item.caution,
    }
    return _sheet(here, "pack", run, step, form, facts)


def _pack(run: Run, form: PackForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    stamp = who.stamp(happened_at=typed["happened_at"], reason=typed["early"])
    done = flow.pack(run, form.seen(), stamp=stamp, early=bool(typed["early"]))
    return reverse("staff:floor"), _said(done)


def _sheet(
    here: Here, what: str, run: Run, step: Step, form: HaftForm | PackForm, facts: dict[str, object]
) -> HttpResponse:
    whole = {
        "run": run,
        "step": step,
        "strips": form.strips(),
        "figures": ("0", "1", "2", "3", "4", "5+"),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
        **facts,
    }
    return posting.sheet(here, f"staff/floor/{what}.html", ROOM, whole, form=form)


class SortForm(SlipForm):
    """Handles sorted when they are picked up."""

    good = Whole(label="Good", least=0)
    bad = Whole(label="No good", least=0)
    moisture = Words(longest=10, label="Moisture in %", required=False)


def sort_handles(request: HttpRequest, code: str) -> HttpResponse:
    """Sort a lot of handles."""
    here = posting.here_of(request)
    lot = Lot.objects.filter(code=code, item__kind=Item.Kind.HANDLE).select_related("item").first()
    if lot is None:
        return posting.not_there(here)
    form = SortForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        moisture = hafting.moisture(typed["moisture"])
        made = flow.sort_handles(lot, typed["good"], typed["bad"], stamp=who.stamp(), moisture_permille=moisture)
        return reverse("staff:item", args=[lot.item.code]), f"Lot {lot.code}: {made.good} good, {made.bad} no good."

    asked = Ask(
        f"Sort handles: lot {lot.code}", f"{lot.item.name}. What is no good is scrap.", "Book it",
        reverse("staff:item", args=[lot.item.code]), f"Back to {lot.item.code}", room="shelf", part="Sorted",
    )  # fmt: skip
    return ask(here, form, asked, act)

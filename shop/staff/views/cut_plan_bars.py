"""One bar of a cut plan: sawn otherwise than drawn, or left alone."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import CutPlanBar
from inventory.queries import cut_question
from shop.flows import cut_plans
from shop.flows.cut_plans import AtTheSaw
from shop.shared import shop_row
from shop.shared.units import as_taped
from shop.staff import posting, wording
from shop.staff.views.asking import Ask, ask
from shop.staff.views.cut_plan_forms import LeftForm, OtherwiseForm
from shop.staff.views.rack import ROOM
from shop.staff.views.saw import SAW_CAUTION, SAW_HAZARD


def otherwise(request: HttpRequest, number: int, bar: str) -> HttpResponse:
    """Book one bar of a plan that was sawn otherwise than drawn."""
    here = posting.here_of(request)
    found = (
        CutPlanBar.objects.select_related("plan", "bar").filter(plan__number=number, bar__number=bar.upper()).first()
    )
    if found is None or found.state != CutPlanBar.State.TO_SAW:
        return posting.not_there(here)
    lines = cut_question.lines_of(found.plan)
    form = OtherwiseForm(here.POST if here.method == "POST" else None, bar=found, lines=lines, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        done = AtTheSaw(found.bar.number, good=form.good(), left=form.left(), scrap=typed["scrap"])
        (made,) = cut_plans.sawn(number, [done], version=None, stamp=who.stamp(reason=typed["note"]))
        said = f"Bar {found.bar.number}: {wording.figures(made.cut.pieces)} blanks are in the book."
        return reverse("staff:cut_plan", args=[number]), said

    drawn_left = (
        f"{'stays' if found.kept else 'scrap end'} {as_taped(found.left_nm)}" if found.left_nm else "nothing is left"
    )
    asked = Ask(
        f"Bar {found.bar.number}, sawn otherwise",
        f"Drawn: {len(found.pieces)} blanks, {drawn_left}.",
        "Book what came of it",
        reverse("staff:cut_plan", args=[number]),
        f"Back to cut plan {number}",
        room=ROOM,
        part="At the saw",
        hazard=SAW_HAZARD,
        caution=SAW_CAUTION,
    )
    names = {"good": f"good_{lines[0].number}"}
    return ask(here, form, asked, act, names=names)


def leave(request: HttpRequest, number: int, bar: str) -> HttpResponse:
    """Let one bar of a plan go unsawn."""
    here = posting.here_of(request)
    found = (
        CutPlanBar.objects.select_related("plan", "bar").filter(plan__number=number, bar__number=bar.upper()).first()
    )
    if found is None or found.state != CutPlanBar.State.TO_SAW:
        return posting.not_there(here)
    form = LeftForm(here.POST if here.method == "POST" else None, bars=(), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        cut_plans.leave_alone(number, found.bar.number, version=None, at=who.at)
        return reverse("staff:cut_plan", args=[number]), f"Bar {found.bar.number} is free again."

    asked = Ask(
        f"Leave bar {found.bar.number} alone",
        f"Cut plan {number} will not saw it; its blanks stay wanted.",
        "Leave it alone",
        reverse("staff:cut_plan", args=[number]),
        f"Back to cut plan {number}",
        room=ROOM,
        part="Leave",
    )
    return ask(here, form, asked, act)

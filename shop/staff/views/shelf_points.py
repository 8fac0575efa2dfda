"""One question for each kind of item: how many days of use should be left when new goods arrive?"""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Item
from inventory.services import reordering
from shop.shared import shop_row
from shop.shared.errors import Invalid
from shop.staff import posting
from shop.staff.fields import SlipForm, Whole
from shop.staff.views.asking import Ask, ask

_KINDS = {
    Item.Kind.BAR: "Bars",
    Item.Kind.BLANK: "Blanks",
    Item.Kind.HEAD: "Heads",
    Item.Kind.HANDLE: "Handles",
    Item.Kind.CONSUMABLE: "Consumables",
    Item.Kind.TOOL: "Tools",
}


class PointsForm(SlipForm):
    """Days of use to have left, by kind; empty leaves a kind as it is."""

    bar = Whole(label=_KINDS[Item.Kind.BAR], required=False, least=0, most=reordering.MOST_DAYS)
    blank = Whole(label=_KINDS[Item.Kind.BLANK], required=False, least=0, most=reordering.MOST_DAYS)
    head = Whole(label=_KINDS[Item.Kind.HEAD], required=False, least=0, most=reordering.MOST_DAYS)
    handle = Whole(label=_KINDS[Item.Kind.HANDLE], required=False, least=0, most=reordering.MOST_DAYS)
    consumable = Whole(label=_KINDS[Item.Kind.CONSUMABLE], required=False, least=0, most=reordering.MOST_DAYS)
    tool = Whole(label=_KINDS[Item.Kind.TOOL], required=False, least=0, most=reordering.MOST_DAYS)


def points(request: HttpRequest) -> HttpResponse:
    """Give items without a reorder point one, from one answer for each kind."""
    here = posting.here_of(request)
    form = PointsForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        answers = {kind: days for kind, days in form.cleaned_data.items() if days is not None}
        if not answers:
            raise Invalid.field("bar", "Nothing is answered yet; write the days for at least one kind.")
        seeded = reordering.seed_kinds(answers, at=who.at, by=who.by)
        return reverse("staff:shelf"), f"{len(seeded)} items have a reorder point now; the night asks by it."

    lead = (
        "How many days of use should be left when new goods arrive? Items that have a reorder point keep it; "
        "items nobody used in six weeks are left out."
    )
    asked = Ask(
        "How long it should last",
        lead,
        "Set the reorder points",
        reverse("staff:shelf"),
        "Back to the Shelf",
        room="shelf",
    )
    return ask(here, form, asked, act)

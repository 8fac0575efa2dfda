"""A tool names the melt of its steel while all of it is of one, also after a mill heat number was corrected."""

import pytest
from django.db import transaction

from inventory.models import Item, Lot
from inventory.services import catalogue, correcting
from tests import makers
from tests.makers import AT

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
BY = makers.actor()


def two_steels(first: str, second: str) -> tuple[Lot, Lot, Lot]:
    """Make one tool up from a head and a steel ferrule of these mill heats; return head, ferrule and tool."""
    tool, head, ferrule = (makers.make_item(kind) for kind in (Item.Kind.TOOL, Item.Kind.HEAD, Item.Kind.BLANK))
    with transaction.atomic():
        catalogue.set_recipe(tool, {head: 1, ferrule: 1}, at=AT, by=BY)
    lots = [makers.put_in(item, 1, melt=makers.make_melt(heat)) for item, heat in ((head, first), (ferrule, second))]
    made = makers.make_up(makers.Tool(tool, head, ferrule, ferrule), 1)
    return lots[0], lots[1], made.lots[0]


def melt_of(lot: Lot) -> str | None:
    fresh = Lot.objects.select_related("melt").get(pk=lot.pk)
    return fresh.melt.heat_number if fresh.melt else None


def test_a_tool_of_two_melts_names_none_and_names_it_when_they_turn_out_to_be_one() -> None:
    _, ferrule, tool = two_steels("00700", "00701")
    assert melt_of(tool) is None
    with transaction.atomic():
        correcting.melt_of(ferrule, "00700", mill="Invented Mill", at=AT, by=BY, reason="read the tag again")
    assert melt_of(tool) == "00700"


def test_a_tool_of_one_melt_names_none_when_some_of_its_steel_turns_out_to_be_another() -> None:
    _, ferrule, tool = two_steels("00700", "00700")
    assert melt_of(tool) == "00700"
    with transaction.atomic():
        correcting.melt_of(ferrule, "00701", mill="Invented Mill", at=AT, by=BY, reason="read the tag again")
    assert melt_of(tool) is None


def test_a_tool_follows_when_two_mill_heats_are_found_to_be_the_same() -> None:
    head, ferrule, tool = two_steels("00700", "00701")
    with transaction.atomic():
        assert ferrule.melt is not None
        correcting.heat_number(ferrule.melt, "00700", at=AT, by=BY, reason="mistyped")
    assert melt_of(tool) == melt_of(ferrule) == melt_of(head) == "00700"

"""Sales eat the shelf: what to make is proposed, put into the week, stands on the sheet, and is done with when it is started."""

import datetime as dt
import re

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Item, ToolingChange, ToolingSet
from inventory.services import tooling_sets
from orders.models import ForShelf
from orders.queries import for_the_shelf
from orders.queries import week as proposing
from orders.queries.for_the_shelf import Proposal
from shop.flows import shelf_words
from shop.shared import clock
from tests import forge, makers
from tests.makers import AT, FOOT_NM
from tests.pages.pressing import follow, forms, text
from tests.people import client_of, make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]

WEEK, DAY = dt.timedelta(days=7), dt.timedelta(days=1)
TODAY = AT.date()


@pytest.fixture
def made(db: None, monkeypatch: pytest.MonkeyPatch) -> forge.Forge:
    """Twenty weeks in which three or four of a tool were sold, three of which are left; steel on the rack."""
    monkeypatch.setattr(clock, "_frozen", AT)
    make_shop()
    for login in ("ines", "marek"):
        make_person("hand", login)
    made = forge.make_forge(blanks=0)
    sold = 0
    makers.put_in(made.tool.item, 73, at=AT - 20 * WEEK)
    for week in range(20):
        qty, day = 3 + week % 2, AT - (20 - week) * WEEK + DAY
        makers.send(makers.make_order({made.tool.item: qty}, at=day), at=day)
        sold += qty
    assert sold == 70
    return made


def rack(made: forge.Forge, *feet: int) -> list[str]:
    bar = makers.make_item(Item.Kind.BAR)
    lots = [makers.put_in(bar, foot * FOOT_NM, melt=made.melt, place="RACK") for foot in feet]
    return [lot.bar.number for lot in lots]


def proposals() -> list[Proposal]:
    return for_the_shelf.proposals(proposing.proposed(at=AT), for_the_shelf.stood(at=AT))


def one() -> Proposal:
    (found,) = proposals()
    return found


def said(client: Client) -> str:
    return text(client.get("/week")).replace("\u00a0", " ")


def test_from_the_last_sale_to_the_started_run(made: forge.Forge) -> None:
    made.blanks(80)
    desk, tool = client_of("desk"), made.tool.item
    found = one()
    assert found.item == tool
    assert found.chosen is not None
    assert found.chosen.good >= found.wanted.least == found.wanted.need.decision.least > 0
    page = said(desk)
    assert f"{found.pieces} to start" in page
    assert f"{found.wanted.least} good ones are wanted at the least" in page
    (put,) = [form for form in forms(desk.get("/week")) if ("do", "shelf_put") in form.buttons]
    answer = follow(desk, desk.post("/week", {**put.fields, "do": "shelf_put"}))
    assert f"{found.pieces} of {tool.name} are in the week for the shelf, behind all that is owed." in text(answer)
    wish = ForShelf.objects.get()
    assert (wish.pieces, wish.why) == (found.pieces, shelf_words.short(found, "USD"))
    assert proposals() == []
    page = said(desk)
    assert f"{found.pieces}, to start for the shelf" in page
    assert f"{tool.name} is in the week." in page
    made.start(10)
    wish.refresh_from_db()
    assert (wish.run, wish.pieces) == (None, found.pieces - 10)
    run = made.start(wish.pieces)
    wish.refresh_from_db()
    assert wish.run == run
    assert "For the shelf" not in said(desk)
    assert proposals() == []


def test_bars_that_come_out_whole_and_a_run_of_orders_are_named(made: forge.Forge) -> None:
    names = rack(made, 5, 5, 5, 5, 5, 5)
    found = one()
    words = shelf_words.many(found, "USD")
    assert re.search(rf"\d+ of bar ({'|'.join(names)})", words), words
    assert "oven" in words or "load" in words
    makers.make_order({made.tool.item: 30})
    joined = one()
    assert joined.joins == f"{made.tool.item.code}+1"
    assert f"made with the run of {made.tool.item.code} for orders" in shelf_words.many(joined, "USD")
    assert joined.chosen is not None
    bars = joined.chosen.why[0].facts["bars"]
    assert isinstance(bars, tuple)
    assert not {name for name, _ in bars} & set(names[:2]), "these are sawn for the order"


def test_without_steel_it_says_so_and_proposes_all_the_same(made: forge.Forge) -> None:
    found = one()
    assert found.chosen is not None
    assert "no steel for it is known" in shelf_words.many(found, "USD")
    rack(made, 1)
    assert "to be bought, which" in shelf_words.many(one(), "USD")


def test_heads_on_the_shelf_are_hafted_before_any_are_forged(made: forge.Forge) -> None:
    least = one().wanted.least
    makers.put_in(made.head, 4)
    some = one()
    assert (some.wanted.heads, some.wanted.least) == (4, least - 4)
    assert "besides 4 heads on the shelf" in shelf_words.now(some, TODAY)
    makers.put_in(made.head, least)
    enough = one()
    assert (enough.chosen, enough.pieces, enough.wanted.least) == (None, 0, 0)
    assert f"{least} of its heads lie on the shelf: enough, once hafted." in shelf_words.now(enough, TODAY)
    assert (shelf_words.many(enough, "USD"), shelf_words.short(enough, "USD")) == ("", "")
    page = said(client_of("desk"))
    assert "to haft" in page
    assert "Put into the week" not in page


def test_what_is_bought_or_made_up_from_parts_is_not_proposed(made: forge.Forge) -> None:
    for item in (makers.make_item(reorder_point=5), makers.make_item(Item.Kind.TOOL, reorder_point=5)):
        assert item.code not in [row.item.code for row in proposals()]


def test_tooling_that_is_in_is_said_and_makes_small_runs_as_good(made: forge.Forge) -> None:
    before = one()
    assert (before.tooling, before.joins) == ("", "")
    with transaction.atomic():
        tooling_sets.change_tooling(ToolingSet.objects.get(code="T4"), ToolingChange.What.IN, at=AT, by=makers.actor())
    after = one()
    assert after.tooling == "T4"
    assert after.pieces <= before.pieces
    assert shelf_words.short(after, "USD").endswith("tooling T4 is in.")

"""A run's whole life at the shared tablet: the touches and the seconds of entry that a browser really needs."""

import datetime as dt
from typing import Any

import pytest

from inventory.models import Holding, Lot, OvenLoad, Run, RunCount
from orders.models import OrderLine
from shop.flows import checking
from tests import forge, makers
from tests.pages.hands import Hand
from tests.people import log_in, make_person, make_shop, make_tablet

pytestmark = pytest.mark.daily("sqlite")
MOST_TOUCHES = 25
MOST_SECONDS_OF_A_SHEET = 60


@pytest.fixture
def hand(live_server: Any, page: Any) -> Hand:
    """Somebody at a tablet on the Floor's first page, two names on it."""
    from django.conf import settings
    from django.test import Client

    make_shop()
    client = Client()
    make_tablet(client)
    ines = make_person("hand", "ines", on_tablet=True)
    make_person("hand", "marek", on_tablet=True)
    log_in(client, ines)
    for name in (settings.SESSION_COOKIE_NAME, settings.TABLET_COOKIE_NAME):
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    page.set_viewport_size({"width": 1024, "height": 768})
    return Hand(page)


def open_floor(hand: Hand, live_server: Any) -> None:
    hand.page.goto(f"{live_server.url}/floor")


def touch_run(hand: Hand, run: Run) -> None:
    hand.touch(hand.page.locator(f".shopline a.do:has-text('{run.code}')"))


def sign(hand: Hand, form: str = "") -> None:
    hand.touch(hand.page.locator(f"{form} button.tally:has-text('Marek')").first)


def test_a_run_from_blanks_to_the_shelf_with_rejects_in_twenty_five_touches(
    hand: Hand, live_server: Any, record_property: Any
) -> None:
    made = forge.make_forge(blanks=60, handles=60, wedges=120)
    order = makers.make_order({made.tool.item: 24})
    open_floor(hand, live_server)
    hand.touch(hand.on("Start a run"))
    hand.touch(hand.on("Start it"))
    sign(hand)
    run = Run.objects.get()
    started = Holding.objects.get(lot__run=run).on_hand
    assert run.wanted == 24
    assert started > 24, "some are lost on the way"
    touch_run(hand, run)
    split = forge.cause(run, "cheek split")
    hand.touch(hand.page.locator(f"label:has([name=c_{split.pk}][value='2'])"))
    assert hand.page.locator(".goodfig").inner_text() == str(started - 2)
    sign(hand)
    touch_run(hand, run)
    sign(hand)
    touch_run(hand, run)
    sign(hand)
    touch_run(hand, run)
    hand.touch(hand.page.locator("label:has-text('grain fine')"))
    sign(hand, "form:has([value=harden])")
    sign(hand, "form:has([value=temper])")
    load = OvenLoad.objects.get(work="temper")
    OvenLoad.objects.filter(pk=load.pk).update(in_at=load.in_at - dt.timedelta(hours=3))
    touch_run(hand, run)
    sign(hand, "form:has([value=out])")
    touch_run(hand, run)
    hand.touch(hand.page.locator("label:has([name=crack_checked])"))
    hand.write("reading", "53")
    sign(hand)
    touch_run(hand, run)
    sign(hand)
    Lot.objects.filter(run=run).update(usable_from=None)  # half a day later
    open_floor(hand, live_server)
    touch_run(hand, run)
    sign(hand)
    hand.page.wait_for_url("**/floor")
    record_property("a run's life", hand.told())
    print(hand.told())
    assert OrderLine.objects.get(order=order).reserved == 24
    assert list(RunCount.objects.order_by("pk").values_list("good", flat=True)) == [started - 2] * 6
    assert {count.entry.by.name for count in RunCount.objects.select_related("entry__by") if count.entry.by} == {
        "Marek"
    }
    assert hand.touches <= MOST_TOUCHES, hand.told()
    assert checking.check_book() == []


def test_a_usual_count_takes_two_touches_and_one_reject_three(hand: Hand, live_server: Any) -> None:
    made = forge.make_forge()
    run = made.start(12)
    open_floor(hand, live_server)
    touch_run(hand, run)
    sign(hand)
    hand.page.wait_for_url("**/floor")
    assert hand.touches == 2
    touch_run(hand, run)
    cold = forge.cause(run, "cold shut")
    hand.touch(hand.page.locator(f"label:has([name=c_{cold.pk}][value='1'])"))
    sign(hand)
    hand.page.wait_for_url("**/floor")
    assert hand.touches == 5
    assert list(RunCount.objects.order_by("pk").values_list("good", "scrap")) == [(12, 0), (11, 1)]


def test_a_point_that_was_passed_by_is_caught_up_in_one_touch(hand: Hand, live_server: Any) -> None:
    made = forge.make_forge()
    run = made.start(12)
    open_floor(hand, live_server)
    touch_run(hand, run)
    hand.touch(hand.on("Count them at ground"))
    sign(hand)
    hand.page.locator("main:has-text('Nothing has been written down yet')").wait_for()
    before = hand.touches
    sign(hand)
    hand.page.wait_for_url("**/floor")
    assert hand.touches == before + 1
    assert RunCount.objects.filter(caught_up=True).count() == 2
    assert RunCount.objects.get(caught_up=False).step.name == "ground"


def test_the_evening_form_takes_every_point_of_a_run_in_less_than_a_minute(
    hand: Hand, live_server: Any, record_property: Any
) -> None:
    made = forge.make_forge()
    run = made.start(20)
    open_floor(hand, live_server)
    touch_run(hand, run)
    hand.touch(hand.on("All points at once"))
    hand.write("good_1", "19")
    hand.write("bad_1", "1")
    hand.choose("cause_1", "cheek split")
    hand.write("good_2", "18")
    hand.write("bad_2", "1")
    hand.choose("cause_2", "cold shut")
    hand.write("good_3", "18")
    sign(hand)
    hand.page.wait_for_url("**/floor")
    record_property("evening form", hand.told())
    print(hand.told())
    assert list(RunCount.objects.order_by("pk").values_list("good", "scrap")) == [(19, 1), (18, 1), (18, 0)]
    assert hand.seconds <= MOST_SECONDS_OF_A_SHEET, hand.told()


def test_a_count_that_leaves_a_run_short_while_the_tooling_is_in_offers_the_top_up(
    hand: Hand, live_server: Any
) -> None:
    from django.db import transaction

    from inventory.models import ToolingSet
    from inventory.services import tooling_sets

    made = forge.make_forge(blanks=40)
    run = made.start(28, wanted=26)
    with transaction.atomic():
        tooling_sets.change_tooling(ToolingSet.objects.get(code="T4"), "in", at=makers.AT, by=makers.actor())
    open_floor(hand, live_server)
    touch_run(hand, run)
    split = forge.cause(run, "cheek split")
    hand.touch(hand.page.locator(f"label:has([name=c_{split.pk}][value='3'])"))
    sign(hand)
    hand.page.wait_for_url(f"**/floor/{run.code}")
    said = hand.page.inner_text("main")
    assert "short of 26, and the tooling is still in" in said
    assert "12 blanks lie sawn of the same mill heat" in said
    hand.touch(hand.page.locator("button:has-text('more now')"))
    assert "are started" in hand.page.inner_text("main")
    assert Holding.objects.filter(lot__run=run, step=0, on_hand__gt=0).exists()

"""An hour without wifi: counts are kept in the browser, sent when it is back, each once, and what cannot be booked is said."""

from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.db.models import Sum
from django.test import Client

from inventory.models import Holding, RunCount
from inventory.queries import count_sheets as queries
from inventory.services import count_sheets
from tests import forge, makers
from tests.conftest import LONG
from tests.people import log_in, make_person, make_shop, make_tablet

pytestmark = pytest.mark.daily("sqlite")
COUNTS = 500 if LONG else 60
KEPT = "JSON.parse(localStorage.getItem('kept-counts') || '[]').length"


@pytest.fixture
def tablet(live_server: Any, page: Any) -> Any:
    make_shop()
    client = Client()
    make_tablet(client)
    log_in(client, make_person("hand", "ines", on_tablet=True))
    make_person("hand", "marek", on_tablet=True)
    for name in (settings.SESSION_COOKIE_NAME, settings.TABLET_COOKIE_NAME):
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    return page


def count_one(page: Any, kept: int) -> None:
    page.fill("[name=good]", "1")
    page.click("button.tally:has-text('Marek')")
    page.wait_for_function(f"() => {KEPT} === {kept}")


def all_sent(page: Any, patience: int = 120_000) -> None:
    page.wait_for_function(f"() => {KEPT} === 0", timeout=patience)


def test_counts_made_without_wifi_are_sent_when_it_is_back_none_lost_none_doubled(
    tablet: Any, live_server: Any
) -> None:
    made = forge.make_forge(blanks=COUNTS + 20)
    run = made.start(COUNTS + 10, wanted=None)
    tablet.goto(f"{live_server.url}/floor/away")
    tablet.context.set_offline(True)
    for number in range(1, COUNTS + 1):
        count_one(tablet, number)
    assert f"{COUNTS} counts are kept on this tablet" in tablet.inner_text("#kept")
    assert RunCount.objects.count() == 0
    tablet.context.set_offline(False)
    tablet.wait_for_function(f"() => {KEPT} < {COUNTS - 5}", timeout=30_000)
    tablet.context.set_offline(True)  # away again in the middle of it
    tablet.wait_for_timeout(300)
    tablet.context.set_offline(False)
    tablet.goto(f"{live_server.url}/floor")  # and another page: what is kept goes on from there
    all_sent(tablet)
    assert RunCount.objects.count() == COUNTS
    assert RunCount.objects.aggregate(sum=Sum("good"))["sum"] == COUNTS
    assert Holding.objects.get(lot__run=run, step=0).on_hand == 10
    assert {count.entry.by.name for count in RunCount.objects.select_related("entry__by") if count.entry.by} == {
        "Marek"
    }
    when = [count.entry.happened_at < count.entry.booked_at for count in RunCount.objects.select_related("entry")]
    assert all(when), "each carries the moment of its touch"


def test_a_kept_count_that_cannot_be_booked_is_said_and_stays_until_it_is_seen_to(
    tablet: Any, live_server: Any
) -> None:
    made = forge.make_forge(blanks=20)
    run = made.start(1, wanted=None)
    tablet.goto(f"{live_server.url}/floor/{run.code}/count")
    tablet.context.set_offline(True)
    tablet.click("button.tally:has-text('Ines')")
    tablet.wait_for_function(f"() => {KEPT} === 1")
    forge.count(run, forge.FIRST, 1)  # somebody else was faster
    tablet.context.set_offline(False)
    tablet.locator("#kept:has-text('Not booked')").wait_for(timeout=20_000)
    said = tablet.inner_text("#kept")
    assert "before" in said or "waiting for" in said or "stand" in said, said
    tablet.click("text=I have seen to it")
    tablet.wait_for_function(f"() => {KEPT} === 0")
    assert RunCount.objects.count() == 1


def test_the_same_kept_count_sent_twice_is_booked_once(tablet: Any, live_server: Any) -> None:
    made = forge.make_forge(blanks=20)
    made.start(5, wanted=None)
    tablet.goto(f"{live_server.url}/floor/away")
    tablet.context.set_offline(True)
    count_one(tablet, 1)
    kept = tablet.evaluate("localStorage.getItem('kept-counts')")
    tablet.context.set_offline(False)
    all_sent(tablet, 20_000)
    tablet.evaluate("kept => localStorage.setItem('kept-counts', kept)", kept)  # as if the answer had been lost
    tablet.goto(f"{live_server.url}/floor")
    all_sent(tablet, 20_000)
    assert RunCount.objects.count() == 1


def test_lines_of_a_count_sheet_are_kept_too_and_carry_the_moment_of_their_touch(tablet: Any, live_server: Any) -> None:
    oil = makers.make_item("consumable", name="linseed oil", unit="ul", buy_unit="tin", issue_per_buy=1_000_000)
    makers.put_in(oil, 3_500_000)
    bar = makers.put_in(makers.make_item("bar"), makers.FOOT_NM)
    with transaction.atomic():
        sheet = count_sheets.open_sheet(
            "all", [*queries.of_kind("consumable"), *queries.of_kind("bar")], stamp=makers.stamp()
        )
    tablet.goto(f"{live_server.url}/shelf/counts/{sheet.number}")
    tablet.context.set_offline(True)
    tablet.fill("[name=whole]", "3")
    tablet.click("button:has-text('and 1/4')")
    tablet.wait_for_function(f"() => {KEPT} === 1")
    tablet.click("button:text-is('Here')")
    tablet.wait_for_function(f"() => {KEPT} === 2")
    kept = tablet.evaluate("JSON.parse(localStorage.getItem('kept-counts')).map(one => one.words)")
    assert kept == ["linseed oil, Shelf: 3", f"bar {bar.bar.number}, {bar.item.name}, Rack: yes"]
    tablet.context.set_offline(False)
    all_sent(tablet, 30_000)
    lines = {one.item_id: one for one in queries.lines(sheet)}
    assert (lines[oil.pk].counted, lines[bar.item_id].counted) == (3_250_000, makers.FOOT_NM)
    assert lines[oil.pk].entry.happened_at < lines[oil.pk].entry.booked_at

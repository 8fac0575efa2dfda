"""Checked heads by weight class: touched with a glove as one strip, or typed in three fields where there is no script."""

import math
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client

from inventory.models import Run, RunCount
from inventory.services import patterns
from shop.staff.views.floor_words import weight_classes
from tests import forge, makers
from tests.forge import FIRST, GROUND, SECOND
from tests.pages.hands import Hand
from tests.pages.pressing import forms, press, text
from tests.people import client_of, log_in, make_person, make_shop, make_tablet

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
LIGHT, HEAVY = 879_970, 935_534  # mg: 97 in 100 of 2 lb, 1 lb 15.04 oz; 2 lb 1 oz
GLOVE = 56
CHECKED = {"crack_checked": "on", "reading": "53"}


@pytest.fixture
def run(db: None) -> Run:
    """Twelve tempered heads of a pattern that names both limits."""
    make_shop()
    made = forge.make_forge()
    with transaction.atomic():
        patterns.change_pattern(
            made.pattern, at=makers.AT, by=makers.actor(), light_below_mg=LIGHT, heavy_above_mg=HEAVY
        )
    run = made.start(12)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 12)
    forge.harden(run, 12)
    forge.temper(run, 12)
    return run


@pytest.fixture
def hand(live_server: Any, page: Any, run: Run) -> Hand:
    """Somebody at a tablet in front of the check of the twelve."""
    client = Client()
    make_tablet(client)
    log_in(client, make_person("hand", "ines", on_tablet=True))
    for name in (settings.SESSION_COOKIE_NAME, settings.TABLET_COOKIE_NAME):
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    page.set_viewport_size({"width": 1024, "height": 768})
    page.goto(f"{live_server.url}/floor/{run.code}/count")
    return Hand(page)


def touch(hand: Hand, *names: str) -> None:
    for name in names:
        hand.touch(hand.page.locator(f"[aria-label='{name}']"))


def shown(hand: Hand) -> tuple[list[str], str]:
    fields = [hand.page.input_value(f"[name={name}]") for name in ("light", "in_class", "heavy")]
    return fields, hand.page.inner_text("[data-sum]")


def reject_one(hand: Hand, run: Run) -> None:
    crack = forge.cause(run, "quench crack")
    hand.touch(hand.page.locator(f"label:has([name=c_{crack.pk}][value='1'])"))


def book(hand: Hand) -> None:
    hand.touch(hand.page.locator("label:has([name=crack_checked])"))
    hand.write("reading", "53")
    hand.touch(hand.page.locator("button.tally").first)
    hand.page.wait_for_url("**/floor")


def classes_of(run: Run) -> tuple[int, int, int, int]:
    count = RunCount.objects.filter(run=run).latest("pk")
    return count.good, count.light, count.in_class, count.heavy


def test_one_touch_says_all_are_usual_and_each_odd_head_is_one_touch_more(hand: Hand, run: Run) -> None:
    assert shown(hand) == (["", "", ""], "0 of 12")
    before = hand.touches
    touch(hand, "One usual more", "One light more", "One heavy more", "One heavy more")
    assert hand.touches - before == 4
    assert shown(hand) == (["1", "9", "2"], "12 of 12")
    touch(hand, "One heavy fewer")
    assert shown(hand) == (["1", "10", "1"], "12 of 12")
    book(hand)
    assert classes_of(run) == (12, 1, 10, 1)


def test_the_usual_ones_follow_what_is_rejected_after_they_were_said(hand: Hand, run: Run) -> None:
    hand.touch(hand.on("All usual"))
    touch(hand, "One light more")
    reject_one(hand, run)
    assert shown(hand) == (["1", "10", ""], "11 of 11")
    book(hand)
    assert classes_of(run) == (11, 1, 10, 0)


def test_nothing_touched_books_nothing_weighed(hand: Hand, run: Run) -> None:
    reject_one(hand, run)
    assert shown(hand) == (["", "", ""], "0 of 11")
    book(hand)
    assert classes_of(run) == (11, 0, 0, 0)


def test_odd_heads_may_be_said_first_and_then_the_rest(hand: Hand) -> None:
    touch(hand, "One light more", "One light more")
    assert shown(hand) == (["2", "", ""], "2 of 12")
    hand.touch(hand.on("The rest usual"))
    assert shown(hand) == (["2", "10", ""], "12 of 12")
    assert not hand.on("The rest usual").is_visible()
    touch(hand, "One light fewer", "One light fewer", "One light fewer")
    assert shown(hand) == (["", "12", ""], "12 of 12")
    hand.touch(hand.on("Empty it"))
    assert shown(hand) == (["", "", ""], "0 of 12")


def test_what_a_hand_types_is_left_as_typed_and_too_many_are_said(hand: Hand, run: Run) -> None:
    hand.write("in_class", "7")
    assert shown(hand) == (["", "7", ""], "7 of 12")
    touch(hand, "One heavy more")
    assert shown(hand) == (["", "6", "1"], "7 of 12")
    touch(hand, "One usual more", "One usual fewer", "One usual fewer")
    assert shown(hand) == (["", "5", "1"], "6 of 12")
    hand.write("light", "8")
    assert shown(hand) == (["8", "5", "1"], "14 of 12, 2 too many")
    reject_one(hand, run)
    assert shown(hand) == (["8", "5", "1"], "14 of 11, 3 too many")


def test_no_touch_makes_more_heads_than_there_are_or_fewer_than_none(hand: Hand) -> None:
    touch(hand, "One light fewer", "One usual fewer", "One heavy fewer")
    assert shown(hand) == (["", "", ""], "0 of 12")
    touch(hand, *["One heavy more"] * 13)
    assert shown(hand) == (["", "", "12"], "12 of 12")
    touch(hand, "One usual more", "One usual more")
    assert shown(hand) == (["", "0", "12"], "12 of 12")
    touch(hand, "One light more", "One heavy fewer")
    assert shown(hand) == (["", "1", "11"], "12 of 12")


def test_five_and_more_that_were_typed_are_no_heads_to_weigh(hand: Hand, run: Run) -> None:
    crack = forge.cause(run, "quench crack")
    hand.touch(hand.page.locator(f"label:has([name=c_{crack.pk}][value='5+'])"))
    hand.touch(hand.page.locator("button.tally").first)
    hand.page.locator("main:has-text('Five or more: write how many.')").wait_for()
    hand.write(f"n_{crack.pk}", "7")
    hand.touch(hand.on("All usual"))
    assert shown(hand) == (["", "5", ""], "5 of 5")


@pytest.mark.parametrize("size", [(1024, 768), (390, 844)], ids=["tablet", "phone"])
def test_each_minus_and_plus_is_as_large_as_a_glove_wants(hand: Hand, size: tuple[int, int]) -> None:
    hand.page.set_viewport_size({"width": size[0], "height": size[1]})
    boxes = [one.bounding_box() for one in hand.page.locator("[data-classes] button:visible").all()]
    assert len(boxes) == 7, "a minus and a plus for each class, and all usual"
    assert all(min(math.floor(box["width"]), math.floor(box["height"])) >= GLOVE for box in boxes if box), boxes
    assert hand.page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_without_script_three_fields_are_typed_and_fewer_than_all_may_be_weighed(run: Run) -> None:
    hand = client_of("hand")
    page = hand.get(f"/floor/{run.code}/count")
    assert {forms(page)[0].fields[name] for name in ("light", "in_class", "heavy")} == {""}
    assert press(hand, f"/floor/{run.code}/count", light="1", in_class="2", **CHECKED).status_code == 302
    assert classes_of(run) == (12, 1, 2, 0)


def test_more_heads_in_classes_than_came_off_well_are_refused_in_one_sentence(run: Run) -> None:
    hand = client_of("hand")
    refused = press(hand, f"/floor/{run.code}/count", light="1", in_class="11", heavy="1", **CHECKED)
    assert refused.status_code == 422
    said = "Weight classes: light, usual and heavy come to 13 and 12 came off well; 12 in all at the most would work."
    assert said in text(refused)
    assert [forms(refused)[0].fields[name] for name in ("light", "in_class", "heavy")] == ["1", "11", "1"]
    assert RunCount.objects.filter(run=run).count() == 3, "nothing is booked"


def test_the_limits_of_the_classes_are_said_in_words(run: Run) -> None:
    said = text(client_of("hand").get(f"/floor/{run.code}/count")).replace("\u00a0", " ")
    assert "Light under 1 lb 15 oz (880 g) Usual all between Heavy over 2 lb 1 oz (936 g)" in said
    pattern = run.pattern
    pattern.heavy_above_mg = None
    assert weight_classes(pattern) == {"light": "under 1\u00a0lb\u00a015\u00a0oz (880\u00a0g)", "usual": "all others", "heavy": ""}  # fmt: skip
    pattern.light_below_mg = None
    assert weight_classes(pattern) == {}


def test_a_split_handle_takes_no_head_off_the_good_ones(hand: Hand, run: Run, live_server: Any) -> None:
    forge.check(run, 12)
    makers.put_in(run.pattern.items.get(kind="head").used_in.get().tool.recipe.get(part__kind="handle").part, 20)
    hand.page.goto(f"{live_server.url}/floor/{run.code}/haft")
    split = hand.page.locator("fieldset[data-alone]")
    split.locator("label", has_text="2").click()
    assert hand.page.locator(".goodfig").inner_text() == "12"
    hand.page.locator("fieldset.cause:not([data-alone])").first.locator("label", has_text="1").click()
    assert hand.page.locator(".goodfig").inner_text() == "11"

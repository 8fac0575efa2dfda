"""The Week sheet in a browser: next week of twelve open runs planned by a few touches, moved by keys, printed on one page."""

import datetime as dt
import io
from random import Random
from typing import Any

import pypdfium2
import pytest
from django.test import Client

from inventory.models import Run
from orders.models import WeekPin
from orders.queries import week as proposing
from orders.services.ordering import Terms
from shop.shared import clock
from shop.staff.views import week_sheet
from shop.staff.views.week_sheet import Cell
from shop.staff.views.week_words import Named, Shown
from tests import forge, makers
from tests.makers import AT
from tests.pages.hands import Hand
from tests.people import log_in, make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]

MONDAY = AT.date()
MOST_INTERACTIONS = 15


@pytest.fixture(autouse=True)
def on_a_monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "_frozen", AT)


@pytest.fixture
def busy(db: None) -> list[Run]:
    """Twelve open runs of two patterns, spread along the shop, more than a week of work; four orders with a day."""
    make_shop()
    for login in ("ines", "marek"):
        make_person("hand", login, on_tablet=True)
    patterns = [forge.make_forge(blanks=400, handles=400, wedges=900) for _ in range(2)]
    runs = []
    for place in range(12):
        made, qty = patterns[place % 2], 20 + place
        run = made.start(qty)
        runs.append(run)
        for number in (forge.FIRST, forge.SECOND, forge.GROUND)[: place % 4]:
            forge.count(run, number, qty)
    for number, made in enumerate(patterns * 2):
        day = MONDAY + dt.timedelta(days=18 + number)
        makers.make_order({made.tool.item: 70}, terms=Terms(day_given=day))
    return runs


def test_next_week_of_twelve_open_runs_is_planned_in_fifteen_interactions(
    busy: list[Run], at_a_tablet: Any, record_property: Any
) -> None:
    hale = make_person("desk", "hale")
    hand: Hand = at_a_tablet(log_in(Client(), hale), "week")
    hand.touch(hand.on("Week 11"))
    assert "Week 11, 9 to 14 March" in hand.page.locator("h1").inner_text()
    _move(hand, ".week .pick >> nth=0", "2026-03-12")
    _move(hand, ".week .pick >> nth=1", "2026-03-11")
    hand.touch(hand.on("Pin the week"))
    hand.page.locator("text=is pinned as proposed").wait_for()
    record_property("week", hand.told())
    assert hand.touches <= MOST_INTERACTIONS, hand.told()
    found = proposing.proposed(at=AT)
    inside = [one for one in found.operations if dt.date(2026, 3, 9) <= one.date <= dt.date(2026, 3, 15)]
    assert len({one.run for one in found.operations}) >= 12
    assert inside
    assert all(one.pinned for one in inside)


def _move(hand: Hand, line: str, day: str) -> None:
    hand.touch(hand.page.locator(line).first)
    hand.choose("day", day)
    hand.touch(hand.on("See what it does"))
    hand.page.locator("text=The week below is as it would be").wait_for()
    hand.touch(hand.on("Move and pin"))
    hand.page.locator("text=Dates follow it").wait_for()


def test_a_line_is_moved_by_keys_alone(busy: list[Run], at_a_tablet: Any) -> None:
    hand: Hand = at_a_tablet(log_in(Client(), make_person("desk", "hale")), "week")
    page = hand.page
    page.locator(".week .pick").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**line=**")
    page.locator("[name=day]").focus()
    page.keyboard.press("ArrowDown")
    for _ in range(2):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.locator("text=The week below is as it would be").wait_for()
    page.locator("button[value=move]").focus()
    page.keyboard.press("Enter")
    page.locator("text=Dates follow it").wait_for()
    assert WeekPin.objects.exists()


@pytest.mark.parametrize("pinned", [False, True])
def test_the_week_of_twelve_open_runs_prints_on_one_page(busy: list[Run], at_a_tablet: Any, *, pinned: bool) -> None:
    client = log_in(Client(), make_person("desk", "hale"))
    if pinned:
        assert client.post("/week", {"week": "2026-W10", "do": "pin_week", "request_key": ""}).status_code == 302
    page = at_a_tablet(client, "week").page
    paper = pypdfium2.PdfDocument(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=False)))
    width, height = paper[0].get_size()
    assert len(paper) == 1
    assert width > height, "across"
    words = paper[0].get_textpage().get_text_range()
    assert all(run.code in words for run in busy[:4])
    assert "Days given stand on this sheet." in words


@pytest.mark.parametrize("seed", range(6))
def test_whatever_a_week_holds_it_prints_on_one_page(
    busy: list[Run], at_a_tablet: Any, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    draw = Random(seed)
    most, empty = (4, 9, 30)[seed % 3], draw.sample(range(6), seed % 4)
    words = (
        "second forging heat, 22",
        "tempered and checked, hafted, oiled, about 12, to start",
        "harden 42, 9:10 to 12:25",
    )
    notes = ("Ines", "Ines, Marek", "Ines, handle 16 in late, was due Tue 24 Nov")
    usual = week_sheet._cells

    def filled(*given: Any) -> list[Cell]:
        def lines(number: int) -> tuple[Shown, ...]:
            many = 0 if number in empty else draw.randint(0, most)
            return tuple(
                Shown(
                    "Load",
                    (Named("K7", "/floor/K7"),),
                    draw.choice(words),
                    draw.choice(notes),
                    pinned=draw.random() < 0.4,
                )
                for _ in range(many)
            )

        return [Cell(cell.place, lines(number)) for number, cell in enumerate(usual(*given))]

    monkeypatch.setattr(week_sheet, "_cells", filled)
    page = at_a_tablet(log_in(Client(), make_person("desk", "hale")), "week").page
    paper = pypdfium2.PdfDocument(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=False)))
    assert len(paper) == 1
    if most == 30:
        assert "more on the Week sheet" in paper[0].get_textpage().get_text_range()

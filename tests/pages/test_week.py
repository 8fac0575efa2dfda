"""The Week sheet: read by hands, moved and pinned by the desk, tried with odd values."""

import datetime as dt
import re
from typing import Any

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client

from inventory.models import Away, Item, Machine, MachineDown, Run, Supplier
from inventory.services import catalogue, purchasing
from inventory.services.purchasing import ToBuy
from orders.models import ForShelf, RatedPromise, WeekPin
from orders.queries import week as proposing
from orders.services import ordering
from orders.services.ordering import Terms
from shop.access.models import Person
from shop.shared import clock
from shop.shared.models import AuditLine, ShutDays
from tests import forge, makers
from tests.conftest import LONG
from tests.makers import AT
from tests.pages.pressing import ODD, follow, forms, text
from tests.people import client_of, make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]

MONDAY = AT.date()
TUESDAY, WEDNESDAY, FRIDAY = (MONDAY + dt.timedelta(days=number) for number in (1, 2, 4))


@pytest.fixture(autouse=True)
def on_a_monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "_frozen", AT)


@pytest.fixture
def made(db: None) -> forge.Forge:
    """Two people with name tiles, a run at the fire, one that is ground, an order given for Friday."""
    make_shop()
    for login in ("ines", "marek"):
        make_person("hand", login, on_tablet=True)
    made = forge.make_forge(blanks=60)
    made.start(10)
    ground = made.start(8)
    for number in (forge.FIRST, forge.SECOND, forge.GROUND):
        forge.count(ground, number, 8)
    makers.make_order(
        {made.tool.item: 12}, customer=makers.make_customer("Tarn and Thrupp"), terms=Terms(day_given=FRIDAY)
    )
    return made


def codes() -> list[str]:
    return list(Run.objects.order_by("pk").values_list("code", flat=True))


def said(client: Client, **asked: str) -> str:
    answer = client.get("/week", asked)
    assert answer.status_code == 200
    return text(answer).replace("\u00a0", " ")


def sent(client: Client, **typed: str) -> HttpResponse:
    return client.post("/week", {"week": "2026-W10", "request_key": "", **typed})


def test_the_week_stands_by_day_and_place(made: forge.Forge) -> None:
    page, (first, second) = said(client_of("hand")), codes()
    assert "Week 10, 2 to 7 March" in page
    assert "Proposed; nothing is pinned." in page
    assert "2 Monday (today) 3 people" in page
    assert f"{first} first forging heat, second forging heat, 10" in page
    assert "Tooling T4 in 30 min" in page
    assert f"Load {second} temper 8, " in page
    assert "Send 1 Tarn and Thrupp, 12, 12 still owed" in page
    assert "7 Saturday shut" in page
    assert "No day given has been rated yet." in page


def test_a_line_leads_to_its_run_and_a_hand_moves_nothing(made: forge.Forge) -> None:
    hand, (first, _) = client_of("hand"), codes()
    page = hand.get("/week", {"line": f"{first}/1"}).content.decode()
    assert f'href="/floor/{first}"' in page
    assert "Moving" not in text(hand.get("/week", {"line": f"{first}/1"}))
    assert "pin_week" not in page
    assert sent(hand, do="pin_week").status_code == 403
    assert not WeekPin.objects.exists()


def test_what_a_move_does_is_shown_before_it_is_saved(made: forge.Forge) -> None:
    desk, (_, second) = client_of("desk"), codes()
    assert f"Moving {second} harden, 8" in said(desk, line=f"{second}/4")
    page = said(desk, line=f"{second}/4", day="2026-03-16", after="first")
    assert "The week below is as it would be. It would begin on Mon 16 Mar." in page
    assert "1 Tarn and Thrupp, given for Fri 6 Mar, " in page
    assert f"{second} temper: Mon 2 Mar to Mon 16 Mar" in page
    assert not WeekPin.objects.exists()
    form = next(
        form for form in forms(desk.get("/week", {"line": f"{second}/4", "day": "2026-03-16"})) if "day" in form.fields
    )
    answer = follow(desk, desk.post("/week", {**form.fields, "do": "move"}))
    assert f"{second} harden is pinned on Mon 16 Mar. Dates follow it." in text(answer).replace("\u00a0", " ")
    assert [pin.key for pin in proposing.pins()] == [(second, 4)]


def test_a_move_that_makes_room_for_nobody_says_so(made: forge.Forge) -> None:
    desk, (first, _) = client_of("desk"), codes()
    page = said(desk, line=f"{first}/1", day=str(MONDAY), after="last")
    assert "No further tooling change." in page


@pytest.mark.parametrize(
    ("day", "after", "words"),
    [
        ("2026-03-07", "first", "This is not on the list"),
        ("someday", "first", "This is not on the list"),
        ("2026-03-04", "NONE/1", "This is not on the list"),
        ("2026-03-04", "{there}", "does not begin there on 2026-03-04"),
    ],
)
def test_a_move_that_cannot_be_is_said_in_one_sentence(made: forge.Forge, day: str, after: str, words: str) -> None:
    desk, (first, _) = client_of("desk"), codes()
    there = next(one for one in proposing.proposed(at=AT).operations if one.place == "bench")
    page = said(desk, line=f"{first}/6", day=day, after=after.format(there=f"{there.run}/{there.step}"))
    assert words in page


def test_a_line_goes_behind_another_and_a_pin_comes_out(made: forge.Forge) -> None:
    desk, (first, second) = client_of("desk"), codes()
    there = next(one for one in proposing.proposed(at=AT).operations if one.place == "bench" and one.date == TUESDAY)
    sent(desk, do="move", line=f"{first}/6", day=str(TUESDAY), after=f"{there.run}/{there.step}")
    assert [pin.run for pin in proposing.pins()] == [second, first]
    page = said(desk)
    assert "Proposed around the pins: 2 lines pinned" in page
    assert f"by {Person.objects.get(role='desk').name}" in page
    assert page.count("pinned") >= 3
    answer = follow(desk, sent(desk, do="unpin", line=f"{first}/6"))
    assert f"{first} tempered and checked is not pinned any more." in text(answer)
    assert [pin.run for pin in proposing.pins()] == [second]
    assert sent(desk, do="unpin", line=f"{first}/6").status_code == 302, "nothing of it is pinned, and nothing is wrong"


def test_last_of_the_day_goes_behind_all_that_is_there(made: forge.Forge) -> None:
    desk, (first, _) = client_of("desk"), codes()
    there = [one for one in proposing.proposed(at=AT).operations if one.place == "bench" and one.date == TUESDAY]
    sent(desk, do="move", line=f"{first}/6", day=str(TUESDAY), after="last")
    assert [pin.key for pin in proposing.pins()][-1] == (first, 6)
    assert len(proposing.pins()) == len({(one.run, one.step) for one in there} | {(first, 6)})


def test_the_week_is_pinned_in_one_touch_and_taken_out_in_another(made: forge.Forge) -> None:
    desk = client_of("desk")
    answer = follow(desk, sent(desk, do="pin_week"))
    number = WeekPin.objects.count()
    assert f"Week 10, 2 to 7 March is pinned as proposed: {number} lines newly pinned." in text(answer)
    assert "Take the pins out" in text(answer)
    answer = follow(desk, sent(desk, do="unpin_week"))
    assert f"{number} lines of Week 10, 2 to 7 March taken out" in text(answer)
    assert not WeekPin.objects.exists()
    refused = sent(desk, do="unpin_week")
    assert refused.status_code == 422
    assert "Nothing is pinned up to 2026-03-08" in text(refused)
    assert "Nothing has been written down yet." in text(refused)


def test_other_weeks_are_led_to_and_a_friday_night_opens_the_next(
    made: forge.Forge, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = client_of("desk")
    assert "Week 12, 16 to 21 March" in said(desk, week="2026-W12")
    assert "Week 11 Week 12" in said(desk)
    assert "Week 18, 27 April to 2 May" in said(desk, week="2026-W18")
    for odd in ("2026-W09", "2026-W60", "2027-W40", "W10", "2026-W1", "9999-W99", "", "\x00"):
        assert "Week 10, 2 to 7 March" in said(desk, week=odd), odd
    monkeypatch.setattr(clock, "_frozen", AT + dt.timedelta(days=4, hours=5))
    assert "Week 10, 2 to 7 March" in said(client_of("desk"))
    monkeypatch.setattr(clock, "_frozen", AT + dt.timedelta(days=4, hours=15))
    assert "Week 11, 9 to 14 March" in said(client_of("desk"))


def test_who_is_out_what_is_down_and_why_it_is_shut_stand_with_the_day(made: forge.Forge) -> None:
    ines, hammer = Person.objects.get(login="ines"), Machine.objects.get(code="HAMMER")
    Away.objects.create(person=ines, first=TUESDAY, last=TUESDAY, noted_at=AT)
    Away.objects.create(person=Person.objects.get(login="marek"), first=MONDAY, ill=True, noted_at=AT)
    MachineDown.objects.create(machine=hammer, first=WEDNESDAY, last=WEDNESDAY, noted_at=AT)
    ShutDays.objects.create(first=FRIDAY, last=FRIDAY, why="fair day")
    page = said(client_of("desk"))
    assert "2 Monday (today) 2 people Marek out" in page
    assert "3 Tuesday 2 people Marek perhaps out Ines out" in page.replace(
        "Ines out Marek perhaps out", "Marek perhaps out Ines out"
    )
    assert "4 Wednesday 3 people Marek perhaps out power hammer down" in page
    assert "6 Friday shut, fair day" in page
    assert "Someone is out" in page
    assert "Machine is down" in page


def test_what_comes_goes_and_runs_low_stands_at_the_desk(made: forge.Forge) -> None:
    supplier = Supplier.objects.create(name="Wold-and-Ashby")
    with transaction.atomic():
        order = purchasing.open_order(
            supplier, [ToBuy(made.tool.handle, "36")], ordered_on=MONDAY, at=AT, by=makers.actor()
        )
        order.confirmed_on = WEDNESDAY
        order.save()
        catalogue.change_item(made.tool.wedge, at=AT, by=makers.actor(), reorder_point=500, reorder_quantity=1000)
    page = said(client_of("desk"))
    assert f"Door Wold-and-Ashby, order {order.number}" in page
    assert f"Order {made.tool.wedge.name}" in page


def test_goods_that_a_line_waits_for_stand_with_it_and_blanks_at_the_saw(made: forge.Forge) -> None:
    supplier = Supplier.objects.create(name="Wold-and-Ashby")
    for item in (made.tool.handle, made.tool.wedge):
        item.supplier, item.lead_days = supplier, 30
        item.save()
    for _ in range(4):
        makers.put_in(makers.make_item(Item.Kind.BAR), 20 * makers.FOOT_NM, melt=made.melt, place="RACK")
    with transaction.atomic():
        order = purchasing.open_order(
            supplier, [ToBuy(made.tool.handle, "6")], ordered_on=MONDAY, at=AT, by=makers.actor()
        )
        order.confirmed_on = WEDNESDAY
        order.save()
    makers.make_order({made.tool.item: 90})
    desk = client_of("desk")
    pages = " ".join(said(desk, week=f"2026-W{number}") for number in range(10, 20))
    assert f"{made.tool.handle.name} due Wed 4 Mar" in pages
    assert f"{made.tool.handle.name} to be bought" in pages
    assert re.search(rf"{made.blank.code} \d+ blanks", pages)
    assert f"{made.tool.handle.name} : " in pages or f"{made.tool.handle.name}:" in pages, "short, under the sheet"
    goods = {one.code: one.name for one in (made.tool.handle, made.tool.wedge)}
    waiting = next(one for one in proposing.proposed(at=AT).operations if one.why in goods)
    assert f"it waits for {goods[waiting.why]}." in said(desk, line=f"{waiting.run}/{waiting.step}")


def test_why_a_line_waits_is_said_in_the_shops_words(made: forge.Forge) -> None:
    desk, (_, second) = client_of("desk"), codes()
    for _ in range(3):
        made.start(12)
    makers.make_order({made.tool.item: 30})
    waits = {one.why: one for one in proposing.proposed(at=AT).operations if one.why}
    for why, words in (
        ("HAMMER", "waits for power hammer"),
        ("OVEN1", "waits for oven"),
        ("ines", "waits until Ines is free"),
    ):
        if why in waits:
            assert words in said(desk, line=f"{waits[why].run}/{waits[why].step}")
    assert set(waits) & {"HAMMER", "OVEN1", "ines"}
    sent(desk, do="move", line=f"{second}/4", day=str(WEDNESDAY), after="first")
    assert "it waits for its day on the sheet" in said(desk, line=f"{second}/4")


def test_stuck_runs_stand_under_the_sheet(made: forge.Forge) -> None:
    makers.make_order({made.tool.item: 60})
    page = said(client_of("desk"))
    assert "Stuck" in page
    assert "cannot be bought" in page


def test_days_given_stand_on_the_sheet(made: forge.Forge) -> None:
    promise = ordering.Promise.objects.get()
    RatedPromise.objects.create(promise=promise, chance_ppm=710_000, before_ppm=710_000, at=AT)
    page = said(client_of("hand"))
    assert "0 of 1 day given is at the wanted figure or better; order 1, Tarn and Thrupp, is at 71 in 100" in page


def test_no_field_of_the_week_breaks_over_what_is_typed(made: forge.Forge) -> None:
    desk, (first, _) = client_of("desk"), codes()
    usual = {"do": "move", "line": f"{first}/1", "day": str(TUESDAY), "after": "first", "week": "2026-W10",
             "item": made.tool.item.code, "pieces": "12"}  # fmt: skip
    for do in ("move", "unpin", "pin_week", "unpin_week", "shelf_put", "shelf_change", "shelf_drop"):
        for place, name in enumerate([*usual, "who", "request_key"]):
            for odd in ODD if LONG else ODD[place % 5 :: 5]:
                before = _stands()
                answer = desk.post("/week", {"request_key": "", **usual, "do": do, name: odd})
                words = f"{do} with {name}={odd[:20]!r}"
                assert answer.status_code in {302, 422}, f"{words}: {answer.status_code}"
                if answer.status_code == 422:
                    assert _stands() == before, words
                    assert "Nothing has been written down yet." in text(answer), words


@pytest.mark.parametrize("name", ["week", "line", "day", "after", "person"])
def test_no_address_of_the_week_breaks_over_what_is_asked(made: forge.Forge, name: str) -> None:
    desk, (first, _) = client_of("desk"), codes()
    for odd in ODD:
        for usual in ({}, {"line": f"{first}/1"}):
            assert desk.get("/week", {**usual, name: odd}).status_code == 200, odd[:20]
        assert desk.get("/", {name: odd}).status_code == 200


def test_the_week_asks_the_database_no_more_for_more_runs(
    made: forge.Forge, django_assert_max_num_queries: Any
) -> None:
    for _ in range(10):
        made.start(3)
    desk = client_of("desk")
    with django_assert_max_num_queries(130):
        desk.get("/week")


def test_the_day_sheet_has_todays_column_for_everybody_or_one_person(made: forge.Forge) -> None:
    client, (first, second) = client_of("hand"), codes()
    page = text(client.get("/"))
    assert f"10 pieces {first} first forging heat, second forging heat." in page
    assert "30 min Tooling T4 in." in page
    people = {one: text(client.get("/", {"person": one})) for one in ("ines", "marek")}
    assert all("has to do today" in one for one in people.values())
    assert sum(f"{first} first forging heat" in one for one in people.values()) <= 2
    assert any(f"{second} temper" not in one or f"{first} first" not in one for one in people.values())
    assert "has to do today" not in text(client.get("/", {"person": "nobody"}))


def test_the_day_sheet_names_three_lines_of_a_place_and_counts_the_rest(made: forge.Forge) -> None:
    for _ in range(6):
        run = made.start(1)
        for number in (forge.FIRST, forge.SECOND, forge.GROUND):
            forge.count(run, number, 1)
        forge.harden(run, 1)
        forge.temper(run, 1, at=AT - dt.timedelta(hours=4))
    makers.make_order({made.tool.item: 40})
    page = text(client_of("hand").get("/"))
    assert "on the Week sheet. See the week" in page


def test_a_week_that_cannot_be_worked_out_keeps_nobody_from_the_day_sheet(
    made: forge.Forge, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(**_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(proposing, "proposed", broken)
    assert "The week could not be worked out" in text(client_of("hand").get("/"))


def _stands() -> tuple[list[Any], list[Any], int]:
    return list(WeekPin.objects.values_list()), list(ForShelf.objects.values_list()), AuditLine.objects.count()


def test_what_is_made_for_the_shelf_is_put_in_changed_and_dropped(made: forge.Forge) -> None:
    desk, tool = client_of("desk"), made.tool.item
    assert "For the shelf" not in said(desk)
    tool.reorder_point = 40
    tool.save()
    page = said(desk)
    assert f"{tool.name}. Lasts until" in page
    (put,) = [form for form in forms(desk.get("/week")) if ("do", "shelf_put") in form.buttons]
    answer = follow(desk, desk.post("/week", {**put.fields, "do": "shelf_put"}))
    assert "are in the week for the shelf, behind all that is owed." in text(answer)
    again = sent(desk, do="shelf_put", item=tool.code, pieces="5")
    assert again.status_code == 422
    assert "are in the week for the shelf already; change or drop these." in text(again)
    answer = follow(desk, sent(desk, do="shelf_change", item=tool.code, pieces="70"))
    assert f"{tool.name}: 70 are to be started for the shelf in 2 runs." in text(answer)
    assert ", in 2 runs." in said(desk)
    hand = client_of("hand")
    page = said(hand)
    assert f"{tool.name} is in the week." in page
    assert "Drop" not in page
    assert sent(hand, do="shelf_drop", item=tool.code).status_code == 403
    answer = follow(desk, sent(desk, do="shelf_drop", item=tool.code))
    assert f"70 of {tool.name} are out of the week again." in text(answer)
    gone = sent(desk, do="shelf_drop", item=tool.code)
    assert gone.status_code == 422
    assert f"Nothing of {tool.code} is in the week for the shelf" in text(gone)
    assert ForShelf.objects.get().dropped_at == AT


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"do": "shelf_put", "pieces": "5"}, "No item is named"),
        ({"do": "shelf_put", "item": "NONE", "pieces": "5"}, "here is none with the code NONE"),
        ({"do": "shelf_put", "item": "{tool}"}, "No number is written yet"),
        ({"do": "shelf_put", "item": "{tool}", "pieces": "0"}, "1"),
        ({"do": "shelf_change", "item": "{tool}", "pieces": "1001"}, "1"),
        ({"do": "shelf_put", "item": "{handle}", "pieces": "5"}, "is not made here in runs"),
    ],
)
def test_what_cannot_be_made_for_the_shelf_is_said(made: forge.Forge, typed: dict[str, str], words: str) -> None:
    codes = {"tool": made.tool.item.code, "handle": made.tool.handle.code}
    answer = sent(client_of("desk"), **{name: value.format(**codes) for name, value in typed.items()})
    assert answer.status_code == 422
    assert words in text(answer)
    assert not ForShelf.objects.exists()

"""Someone is out, a machine is down, the shop is shut: the pages as a browser without script sees them."""

import datetime as dt
import re

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Away, Machine, MachineDown
from inventory.services import tooling_sets
from shop.access.models import Person
from shop.shared import clock, shop_row
from shop.shared.models import AuditLine, ShutDays
from tests import makers
from tests.pages.pressing import ODD, follow, forms, text
from tests.people import client_of, make_shop, make_tablet, touch

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
NOW = dt.datetime(2026, 11, 30, 9, 0, tzinfo=dt.UTC)  # a Monday
FIELDS = {"what": "until", "first": "", "last": "", "why": ""}


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()


@pytest.fixture(autouse=True)
def _monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "_frozen", NOW)


@pytest.fixture
def ines() -> Person:
    return makers.make_person(name="Ines", login="ines")


@pytest.fixture
def hammer() -> Machine:
    with transaction.atomic():
        return tooling_sets.add_machine("HAMMER", "power hammer", "hammer", at=NOW, by=makers.actor())


@pytest.fixture
def hand() -> Client:
    return client_of("hand")


def press(client: Client, page: str, name: str, value: object) -> str:
    """Touch the tile or the button of that name and value; return what the next page says."""
    found = [form for form in forms(client.get(page)) if (name, str(value)) in form.buttons]
    assert found, f"no {name}={value} on {page}"
    return text(follow(client, client.post(page, {**found[0].fields, name: value})))


def write(client: Client, page: str, whose: object, **typed: str) -> str:
    form = next(form for form in forms(client.get(page)) if "which" in form.fields)
    return text(follow(client, client.post(page, {**form.fields, **FIELDS, "which": whose, **typed})))


def links(client: Client) -> list[str]:
    return re.findall(r'<a class="do" href="(/out|/down)"', client.get("/").content.decode())


# ---- two touches


def test_from_the_day_sheet_a_second_touch_says_that_someone_is_out(hand: Client, ines: Person) -> None:
    assert links(hand) == ["/out", "/down"]
    said = press(hand, "/out", "touch", ines.pk)
    assert "Noted: Ines is out today." in said
    assert Away.objects.get().person == ines
    assert "1 day Ines is out today. Is back" in text(hand.get("/"))
    assert links(hand) == ["/out", "/out", "/down"]


def test_on_the_shared_tablet_whoever_stands_there_notes_it(ines: Person) -> None:
    marek, client = makers.make_person(name="Marek", login="marek"), Client()
    make_tablet(client)
    touch(client, marek)
    press(client, "/out", "touch", ines.pk)
    assert Away.objects.get().by == marek
    assert AuditLine.objects.get(action="out noted").by == "marek"


def test_a_machines_tile_says_down_with_the_usual_caution(hand: Client, hammer: Machine) -> None:
    page = text(hand.get("/down"))
    assert page.count("Caution") == 1
    assert "Power off, isolated and tagged" in page
    assert "Your local codes on locking out go before this." in page
    said = press(hand, "/down", "touch", hammer.pk)
    assert "Noted: Power hammer is down, nobody knows yet until when." in said
    assert "1 day so far Power hammer is down, nobody knows yet until when. Runs again" in text(hand.get("/"))


def test_who_is_out_has_no_tile_until_they_are_back(hand: Client, ines: Person) -> None:
    press(hand, "/out", "touch", ines.pk)
    body = hand.get("/out").content.decode()
    assert f'name="touch" value="{ines.pk}"' not in body
    assert "Ines is back." in press(hand, "/out", "end", Away.objects.get().pk)
    assert not Away.objects.exists(), "it began today"
    assert f'name="touch" value="{ines.pk}"' in hand.get("/out").content.decode()
    assert "Ines is" not in text(hand.get("/"))


def test_a_touch_sent_twice_is_booked_once(hand: Client, ines: Person) -> None:
    form = forms(hand.get("/out"))[0]
    sent = {**form.fields, "touch": ines.pk}
    assert [hand.post("/out", sent).status_code for _ in range(2)] == [302, 302]
    assert Away.objects.count() == AuditLine.objects.filter(action="out noted").count() == 1


# ---- until when


def test_until_a_day_nobody_knows_and_a_leave_ahead_are_written_on_the_same_page(hand: Client, ines: Person) -> None:
    assert "Noted: Ines is out until Thu 3 Dec." in write(hand, "/out", ines.pk, last="2026-12-03", why="a bad back")
    assert "4 days Ines is out until Thu 3 Dec. a bad back. Is back" in text(hand.get("/"))
    assert "Noted: Ines is out, nobody knows yet until when." in write(hand, "/out", ines.pk, what="unknown")
    said = write(hand, "/out", ines.pk, what="planned", first="2026-12-14", last="2026-12-18")
    assert "Noted: Ines will be out Mon 14 Dec to Fri 18 Dec." in said
    assert "5 days Ines will be out Mon 14 Dec to Fri 18 Dec. Will be here" in said
    assert "Mon 14 Dec" not in text(hand.get("/")), "the Day sheet is about today"
    kept = Away.objects.order_by("first").values_list("first", "last", "ill", "why")
    assert list(kept) == [
        (dt.date(2026, 11, 30), None, True, "a bad back"),
        (dt.date(2026, 12, 14), dt.date(2026, 12, 18), False, ""),
    ]
    assert "Ines will be here." in press(hand, "/out", "end", Away.objects.get(ill=False).pk)


def test_a_leave_that_has_begun_is_said_as_one(hand: Client, ines: Person) -> None:
    write(hand, "/out", ines.pk, what="planned", first="2026-11-28", last="2026-12-02")
    assert "5 days Ines is on leave until Wed 2 Dec. Since Sat 28 Nov. Is back" in text(hand.get("/"))
    assert "Ines is back." in press(hand, "/out", "end", Away.objects.get().pk)
    assert Away.objects.get().last == dt.date(2026, 11, 29)


def test_a_service_ahead_and_a_breakdown_until_a_day(hand: Client, hammer: Machine) -> None:
    said = write(hand, "/down", hammer.pk, what="planned", first="2026-12-07", last="2026-12-07", why="new dies")
    assert "1 day Power hammer will be down Mon 7 Dec. new dies. Will run" in said
    assert "Power hammer is down until Tue 1 Dec." in write(hand, "/down", hammer.pk, last="2026-12-01")
    assert "Power hammer runs again." in press(hand, "/down", "end", MachineDown.objects.get(broke=True).pk)
    assert "Power hammer will run." in press(hand, "/down", "end", MachineDown.objects.get().pk)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "No last day is written; write it, or choose that nobody knows yet."),
        ({"what": "planned"}, "No last day is written"),
        ({"what": ""}, "needed"),
        ({"what": "maybe"}, "not on the list"),
        ({"which": "0"}, "not on the list"),
        ({"which": "x"}, "not on the list"),
        ({"last": "2026-11-29"}, "It comes before the first; 2026-11-30 or later would work."),
        ({"last": "2026-02-30"}, "This is no day"),
        ({"first": "2026-12-01", "last": "2026-12-02"}, "what lies ahead is planned"),
        ({"first": "1900-01-01", "last": "2026-12-02"}, "no day a shop can mean"),
        ({"first": "2025-01-01", "last": "2026-12-02"}, "2025-11-29 to 2028-11-30 would work"),
        ({"last": "2026-12-02", "why": "x" * 81}, "up to 80 would work"),
        ({"last": "2026-12-02", "why": "a\x00b"}, "cannot be kept"),
    ],
)
def test_days_that_cannot_be_are_refused_and_what_was_typed_stays(
    hand: Client, ines: Person, typed: dict[str, str], said: str
) -> None:
    answer = hand.post("/out", {**FIELDS, "which": ines.pk, "why": "a bad back", **typed})
    assert answer.status_code == 422
    assert said in text(answer)
    assert "Nothing has been written down yet." in text(answer)
    assert "why" in typed or 'value="a bad back"' in answer.content.decode()
    assert not Away.objects.exists()


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize(("page", "name"), [("/out", "touch"), ("/out", "end"), ("/down", "touch"), ("/down", "end")])
def test_a_tile_that_is_none_books_nothing(hand: Client, ines: Person, page: str, name: str, odd: str) -> None:
    answer = hand.post(page, {name: odd})
    assert answer.status_code == 404
    assert "Nothing has been written down yet." in text(answer)
    assert not Away.objects.exists()


def test_a_tile_of_someone_noted_out_elsewhere_meanwhile_says_so(hand: Client, ines: Person) -> None:
    form = forms(hand.get("/out"))[0]
    press(client_of("hand"), "/out", "touch", ines.pk)
    answer = hand.post("/out", {**form.fields, "touch": ines.pk})
    assert answer.status_code == 409
    assert "Ines is noted out already, until 2026-11-30; write another last day instead." in text(answer)
    assert Away.objects.count() == 1


def test_nobody_without_a_name_notes_anything(ines: Person) -> None:
    for page in ("/out", "/down"):
        assert Client().post(page, {"touch": ines.pk}).status_code in {302, 403}
    assert not Away.objects.exists()


# ---- the owner's shut days


def shut(client: Client, **typed: str) -> str:
    form = forms(client.get("/settings/shut-days"))[-1]
    return text(follow(client, client.post("/settings/shut-days", {**form.fields, **typed})))


def test_the_owner_writes_a_holiday_and_a_shutdown_and_takes_one_away() -> None:
    owner = client_of("owner")
    assert 'href="/settings/shut-days"' in owner.get("/settings").content.decode()
    assert "The shop is shut on Fri 4 Dec 2026: fair day." in shut(owner, first="2026-12-04", why="fair day")
    shut(owner, first="2026-12-24", last="2027-01-01", why="works holiday")
    page = text(owner.get("/settings/shut-days"))
    assert "1 day Fri 4 Dec 2026: fair day" in page
    assert "9 days Thu 24 Dec 2026 to Fri 1 Jan 2027: works holiday" in page
    assert shop_row.hours().closing_on(dt.date(2026, 12, 4)) is None
    fair = ShutDays.objects.get(why="fair day")
    said = press(owner, "/settings/shut-days", "take_away", fair.pk)
    assert "The shop is open on Fri 4 Dec 2026: fair day is taken away." in said
    assert shop_row.hours().closing_on(dt.date(2026, 12, 4)) is not None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"first": "", "why": "fair"}, "needed"),
        ({"first": "2026-12-04", "why": ""}, "needed"),
        ({"first": "2026-12-04", "last": "2026-12-03", "why": "fair"}, "2026-12-04 or later would work"),
        ({"first": "2026-12-04", "last": "2028-12-03", "why": "fair"}, "up to 366 at a time would work"),
        ({"first": "2026-12-04", "last": "x", "why": "fair"}, "This is no day"),
    ],
)
def test_shut_days_that_cannot_be_are_refused_and_stay_typed(typed: dict[str, str], said: str) -> None:
    answer = client_of("owner").post("/settings/shut-days", typed)
    assert answer.status_code == 422
    assert said in text(answer)
    assert not typed["why"] or f'value="{typed["why"]}"' in answer.content.decode()
    assert not ShutDays.objects.exists()


@pytest.mark.parametrize("odd", ODD)
def test_shut_days_that_are_none_are_not_taken_away(odd: str) -> None:
    assert client_of("owner").post("/settings/shut-days", {"take_away": odd}).status_code == 404


# ---- a pattern's runs


def test_a_patterns_usual_run_and_most_pieces_are_the_desks_to_set() -> None:
    from tests import forge

    made = forge.make_forge()
    desk, page = client_of("desk"), f"/floor/patterns/{made.pattern.code}"
    form = next(form for form in forms(desk.get(page)) if form.fields.get("do") == "facts")
    assert (form.fields["usual_run"], form.fields["most_run"]) == ("12", "60")
    follow(desk, desk.post(page, {**form.fields, "usual_run": "24", "most_run": "96"}))
    made.pattern.refresh_from_db()
    assert (made.pattern.usual_run, made.pattern.most_run) == (24, 96)
    for typed, said in (
        ({"usual_run": "97"}, "Write 1 to 96 pieces, the most a run takes."),
        ({"most_run": "1001"}, "1000"),
        ({"usual_run": "0"}, "1"),
        ({"usual_run": ""}, "needed"),
        ({"most_run": "½"}, "whole number"),
    ):
        now = next(form for form in forms(desk.get(page)) if form.fields.get("do") == "facts")
        answer = desk.post(page, {**now.fields, **typed})
        assert (answer.status_code, said in text(answer)) == (422, True), (typed, text(answer)[:600])
    made.pattern.refresh_from_db()
    assert (made.pattern.usual_run, made.pattern.most_run) == (24, 96)

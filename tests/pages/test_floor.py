"""The Floor as a browser without script sees it: along the shop, counts, the oven, the sheet, undoing, starting."""

import datetime as dt

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import FloorNote, Holding, LoadLot, Lot, OvenLoad, Run, RunCount, ToolingSet
from inventory.services import tooling_sets
from orders.models import BroughtIn, OrderLine
from orders.services.ordering import Wanted
from shop.flows import checking
from shop.shared import clock
from tests import forge, makers
from tests.forge import CHECKED, FIRST, GROUND, HOUR, SECOND
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _whole(db: None):
    make_shop()
    yield
    assert checking.check_book() == []


@pytest.fixture
def hand() -> Client:
    return client_of("hand")


@pytest.fixture
def made() -> forge.Forge:
    return forge.make_forge(blanks=60)


def tempered(made: forge.Forge, qty: int = 8) -> Run:
    run = made.start(qty)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, qty)
    forge.harden(run, qty)
    forge.temper(run, qty)
    return run


def test_an_empty_floor_says_what_to_do(hand: Client) -> None:
    assert "Nothing is on the floor. Start a run from sawn blanks." in text(hand.get("/floor"))


def test_figures_stand_along_the_shop_with_what_each_group_waits_for(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    forge.count(run, FIRST, 11, forge.Reject(1))
    other = made.start(5)
    page = text(hand.get("/floor"))
    assert "16 pieces on the floor" in page
    assert f"{run.code} cross peen 2 lb 12 started" in page
    assert "wait for tooling T4" in page
    assert other.code in page


def test_a_count_by_cause_is_booked_and_said(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    split = forge.cause(run, "cheek split")
    off = forge.cause(run, "eye off centre")
    answer = press(hand, f"/floor/{run.code}/count", **{f"c_{split.pk}": "1", f"c_{off.pk}": "2", f"s_{off.pk}": "1"})
    page = text(follow(hand, answer))
    assert (
        f"{run.code}: 9 good at first forging heat, 1 scrap: eye off centre, 1 a second: eye off centre, 1 scrap: cheek split"
        in page
    )
    count = RunCount.objects.get()
    assert (count.good, count.scrap, count.second) == (9, 2, 1)


def test_five_and_more_ask_how_many(hand: Client, made: forge.Forge) -> None:
    run = made.start(20)
    split = forge.cause(run, "cheek split")
    answer = press(hand, f"/floor/{run.code}/count", **{f"c_{split.pk}": "5+"})
    assert answer.status_code == 422
    assert "Five or more: write how many." in text(answer)
    form = forms(answer)[0]
    done = hand.post(f"/floor/{run.code}/count", {**form.fields, f"n_{split.pk}": "7"})
    assert done.status_code == 302
    assert RunCount.objects.get().scrap == 7


def test_all_good_means_what_the_hand_saw_and_not_what_stands_there_by_now(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    form = forms(hand.get(f"/floor/{run.code}/count"))[0]
    forge.count(run, FIRST, 5)  # somebody else, meanwhile
    answer = hand.post(f"/floor/{run.code}/count", form.fields)
    assert answer.status_code == 409
    assert "The book has 7" in text(answer) or "7 stand before this step" in text(answer)
    assert RunCount.objects.count() == 1


def test_a_count_of_pieces_that_have_gone_on_books_no_others(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    form = forms(hand.get(f"/floor/{run.code}/count"))[0]
    forge.count(run, FIRST, 12)
    assert hand.post(f"/floor/{run.code}/count", form.fields).status_code == 409
    assert RunCount.objects.count() == 1


def test_the_run_s_page_undoes_a_count_and_refuses_what_others_rest_on(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    first, second = forge.count(run, FIRST, 12), forge.count(run, SECOND, 12)
    page = hand.get(f"/floor/{run.code}")
    undo = [form for form in forms(page) if "entry" in form.fields]
    assert [form.fields["entry"] for form in undo] == [str(second.entry_id), str(first.entry_id)]
    refused = hand.post(f"/floor/{run.code}", undo[1].fields)
    assert refused.status_code == 409
    assert hand.post(f"/floor/{run.code}", undo[0].fields).status_code == 302
    assert Holding.objects.get(lot__run=run, on_hand__gt=0).step == FIRST
    assert "Undone." in text(hand.get(f"/floor/{run.code}"))


def test_the_sheet_of_a_tempered_run_takes_its_check_and_its_hafting_at_once(hand: Client, made: forge.Forge) -> None:
    run = tempered(made)
    answer = press(
        hand, f"/floor/{run.code}/evening", good_6="7", bad_6="1", cause_6="quench crack", crack_checked="on",
        reading="53", good_7="6",
    )  # fmt: skip
    assert "2 points of the run sheet are in the book" in text(follow(hand, answer))
    assert list(RunCount.objects.order_by("-pk").values_list("step__number", "good")[:2]) == [(7, 6), (CHECKED, 7)]


def test_a_temper_goes_in_and_comes_out_and_a_reading_outside_the_window_is_said(
    hand: Client, made: forge.Forge
) -> None:
    run = made.start(6)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 6)
    page = hand.get(f"/floor/oven?run={run.code}")
    harden = next(form for form in forms(page) if form.fields.get("work") == "harden")
    assert harden.fields[f"in_{run.code}"] == "on"
    refused = hand.post("/floor/oven", harden.fields)
    assert "say what that of run" in text(refused)
    done = hand.post("/floor/oven", {**harden.fields, f"trial_{run.code}": "file skates, grain fine"})
    page = follow(hand, done)
    temper = next(form for form in forms(page) if form.fields.get("work") == "temper")
    assert (temper.fields["temperature"], temper.fields["soak"]) == ("204 C", "120")
    assert hand.post("/floor/oven", {**temper.fields, "temperature": "400 F"}).status_code == 302
    load = OvenLoad.objects.get(work="temper")
    assert (load.temperature_dc, load.typed) == (2_044, "400 °F")
    assert "in the oven" in text(hand.get("/floor"))
    OvenLoad.objects.filter(pk=load.pk).update(in_at=clock.now() - 3 * HOUR)
    out = next(form for form in forms(hand.get(f"/floor/oven/{load.number}")) if form.fields.get("do") == "out")
    follow(hand, hand.post(f"/floor/oven/{load.number}", out.fields))
    assert LoadLot.objects.get(load=load).load.reached
    read = next(form for form in forms(hand.get(f"/floor/oven/{load.number}")) if form.fields.get("do") == "read")
    said = text(follow(hand, hand.post(f"/floor/oven/{load.number}", {**read.fields, "reading": "62"})))
    assert "outside the window" in said
    refused = press(hand, f"/floor/{run.code}/count", crack_checked="on")
    assert refused.status_code == 409
    assert "lies outside 45 to 60 HRC" in text(refused) or "Outside 45 to 60 HRC" in text(refused)


def test_starting_shows_how_sure_a_few_numbers_are_and_how_often_plain_division_falls_short(
    hand: Client, made: forge.Forge
) -> None:
    makers.make_order({made.tool.item: 24})
    assert "24 wanted" in text(hand.get("/floor/start"))
    page = hand.get(f"/floor/start/{made.head.code}")
    said = text(page)
    assert "are enough 90 times in 100 or more" in said
    assert "Divided plainly it would be" in said
    form = forms(page)[0]
    assert int(form.fields["start"]) > 24
    follow(hand, hand.post(f"/floor/start/{made.head.code}", form.fields))
    run = Run.objects.get()
    assert run.wanted == 24
    assert Lot.objects.get(run=run).melt == made.melt


def test_a_line_made_to_order_begins_a_run_from_its_order(made: forge.Forge) -> None:
    owner = client_of("owner")
    order = makers.make_order([Wanted(qty=1, words="a long-pattern head", price_minor=9_000)])
    line = OrderLine.objects.get(order=order)
    OrderLine.objects.filter(pk=line.pk).update(pattern=made.pattern)
    address = f"/floor/start/{made.head.code}?line={line.pk}&wanted=1"
    assert f"Start a run for line {line.number}" in text(owner.get(f"/order/{order.number}"))
    page = owner.get(address)
    assert "Made to order: a long-pattern head" in text(page)
    follow(owner, owner.post(address, forms(page)[0].fields))
    run = Run.objects.get()
    assert (run.kind, run.for_line.line_id) == ("made to order", line.pk)
    assert "a long-pattern head" in text(owner.get(f"/floor/{run.code}/sheet"))


def test_the_run_sheet_names_the_melt_the_window_the_cautions_and_every_point(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    page = hand.get(f"/floor/{run.code}/sheet")
    said = text(page)
    for words in (
        f"mill heat {made.melt.heat_number}",
        "45 to 60 HRC",
        "strike " + run.code,
        "glass-hard",
        "Ram blocked",
    ):
        assert words in said, words
    assert "cheek split" in said
    assert 'class="qr"' in page.content.decode()


def test_the_tag_has_the_run_s_code_and_the_caution(hand: Client, made: forge.Forge) -> None:
    run = made.start(2)
    assert run.code in text(hand.get(f"/floor/{run.code}/tags"))


def test_the_floor_is_counted_without_being_told(hand: Client, made: forge.Forge) -> None:
    run = made.start(37)
    page = hand.get("/floor/tally")
    assert "37" not in text(page)
    answer = press(hand, "/floor/tally", **{f"t_{run.pk}_0": "36"})
    assert f"Unexplained and booked so: {run.code}: 37 in the book, 36 found." in text(follow(hand, answer))


def test_what_stopped_the_work_is_noted(hand: Client, made: forge.Forge) -> None:
    run = made.start(3)
    follow(hand, press(hand, "/floor/note", what="stopped: hammer", run=run.code))
    assert FloorNote.objects.get().run == run


def test_a_piece_that_a_customer_brings_is_mended_and_given_back(made: forge.Forge) -> None:
    owner = client_of("owner")
    typed = {
        "customer": "An Invented Farrier",
        "what": "a hammer",
        "wanted": "a new handle",
        "handle": made.tool.handle.code,
    }
    follow(owner, press(owner, "/counter/mending/new", **typed))
    piece = BroughtIn.objects.get()
    before = makers.stock(made.tool.handle).sellable
    follow(owner, press(owner, f"/counter/mending/{piece.number}", handles="1", minutes="40"))
    assert makers.stock(made.tool.handle).sellable == before - 1
    follow(owner, press(owner, f"/counter/mending/{piece.number}"))
    piece.refresh_from_db()
    assert piece.given_back_at is not None
    assert not Lot.objects.filter(item__name__contains="a hammer").exists()


def test_the_seconds_say_of_which_run_and_why(hand: Client, made: forge.Forge) -> None:
    run = made.start(5)
    forge.count(run, FIRST, 4, forge.Reject(1, forge.cause(run, "eye off centre"), "second"))
    page = text(hand.get("/shelf/seconds"))
    assert run.code in page
    assert "eye off centre (1)" in page


def test_the_desk_changes_a_pattern_and_a_hand_does_not(hand: Client, made: forge.Forge) -> None:
    desk = client_of("desk")
    address = f"/floor/patterns/{made.pattern.code}"
    facts = next(form for form in forms(desk.get(address)) if form.fields.get("do") == "facts")
    follow(desk, desk.post(address, {**facts.fields, "aim": "53 HRC", "head_mass": "2 lb"}))
    made.pattern.refresh_from_db()
    assert made.pattern.aim == "53 HRC"
    wrong = desk.post(address, {**facts.fields, "hard_low": "60", "hard_high": "45", "request_key": ""})
    assert wrong.status_code == 422
    route = next(form for form in forms(desk.get(address)) if form.fields.get("do") == "route")
    follow(desk, desk.post(address, route.fields))
    assert made.pattern.routes.count() == 2
    assert not [form for form in forms(hand.get(address)) if form.fields.get("do")]


def test_the_floor_asks_the_database_no_more_for_more_runs(
    hand: Client, made: forge.Forge, django_assert_max_num_queries
) -> None:
    for _ in range(12):
        forge.count(made.start(3), FIRST, 3, at=makers.AT + dt.timedelta(minutes=1))
    with django_assert_max_num_queries(36):
        hand.get("/floor")


def test_a_cause_that_was_not_known_is_named_later_and_only_once(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    forge.count(run, FIRST, 10, forge.Reject(2))
    address = f"/floor/{run.code}"
    form = next(form for form in forms(hand.get(address)) if "reject" in form.fields)
    wrong = hand.post(address, {**form.fields, "cause": "no such cause", "request_key": ""})
    assert wrong.status_code == 422
    assert "has no cause" in text(wrong)
    answer = hand.post(address, {**form.fields, "cause": "cheek split"})
    assert f"2 pieces of {run.code}: cheek split." in text(follow(hand, answer))
    reject = RunCount.objects.get().rejects.get()
    assert (reject.cause and reject.cause.name, reject.qty, reject.fate) == ("cheek split", 2, "scrap")
    again = hand.post(address, {**form.fields, "cause": "eye off centre", "request_key": ""})
    assert again.status_code == 422
    assert "was said already, cheek split" in text(again)
    other = made.start(3)
    assert hand.post(f"/floor/{other.code}", {**form.fields, "request_key": ""}).status_code == 422


def test_a_run_waits_for_tooling_on_its_page_only_while_it_is_not_in(hand: Client, made: forge.Forge) -> None:
    run = made.start(12)
    assert "wait for tooling T4" in text(hand.get(f"/floor/{run.code}"))
    with transaction.atomic():
        tooling_sets.change_tooling(ToolingSet.objects.get(code="T4"), "in", at=makers.AT, by=makers.actor())
    assert "wait for tooling" not in text(hand.get(f"/floor/{run.code}"))


def test_a_run_sheet_says_which_lines_want_something_of_their_own(hand: Client, made: forge.Forge) -> None:
    desk, run = client_of("desk"), made.start(12)
    slip = {"item_0": made.tool.item.code, "qty_0": "2", "with_0": "16 in handle", "customer": "R. Wold", "new": "on"}
    assert press(desk, "/counter/take", **slip, kind="one-off", ship_to="4 Weir Row").status_code == 302
    other = makers.make_order([Wanted(qty=1, item=made.head, options="face left rough")])
    makers.make_order({made.tool.item: 3})
    line = OrderLine.objects.get(options="16 in handle")
    for page in (f"/floor/{run.code}/sheet", f"/floor/{run.code}"):
        said = text(hand.get(page))
        assert f"rder {line.order.number}: 2 × {made.tool.item.name}, with 16 in handle" in said
        assert f"rder {other.number}: 1 × {made.head.name}, with face left rough" in said
    sent = {"what": "options", "options": "", "request_key": ""}
    assert desk.post(f"/order/{line.order.number}/line/1", sent).status_code == 302
    assert "16 in handle" not in text(hand.get(f"/floor/{run.code}/sheet"))


def test_words_of_what_is_made_to_order_take_no_options(made: forge.Forge) -> None:
    desk, order = client_of("desk"), makers.make_order([Wanted(qty=1, words="a gate latch")])
    answer = press(desk, f"/order/{order.number}/add", words="one more latch", options="stamped", qty="1")
    assert "This goes with an item; say it in the words" in text(answer)

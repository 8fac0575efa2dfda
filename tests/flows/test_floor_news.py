"""What the floor has to say first thing: hard and not tempered, rejects beyond chance, gas that runs out."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import FloorNote, Item
from inventory.queries import along, creeping, learned, tooling, used_up
from inventory.services import floor_notes, routes, tooling_sets
from inventory.services.count_facts import Reject
from shop.flows import night, untempered
from shop.shared import clock, jobs, shop_row
from shop.shared.models import Job, Message
from tests import forge, makers
from tests.forge import FIRST, GROUND, HOUR, SECOND
from tests.makers import AT
from tests.pages.pressing import text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()
    with transaction.atomic():
        shop_row.set_recipients([("Hale", "hale@forge.example")], at=AT, by="test")


def hardened(at: dt.datetime, qty: int = 6) -> forge.Forge:
    made = forge.make_forge()
    run = made.start(qty, at=at)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, qty, at=at)
    forge.harden(run, qty, at=at)
    return made


def test_a_message_goes_out_when_hard_heads_are_not_in_the_temper_in_time() -> None:
    hardened(AT)
    job = Job.objects.get(kind=untempered.JOB)
    assert job.due_at == AT + 2 * HOUR
    assert jobs.run_due(lambda: AT + HOUR, {untempered.JOB: untempered.work}).done == 0
    assert jobs.run_due(lambda: AT + 2 * HOUR, {untempered.JOB: untempered.work}).done == 1
    message = Message.objects.get()
    assert message.subject.startswith("Hard and not tempered: 6 of run ")
    assert "Glass-hard: do not strike, drop, haft or send." in message.text
    untempered.work(job.payload, AT + 3 * HOUR)
    assert Message.objects.count() == 1, "once for a load"


def test_nothing_is_sent_where_they_are_in_the_temper() -> None:
    made = hardened(AT)
    forge.temper(made.pattern.runs.get(), 6, at=AT + HOUR)
    jobs.run_due(lambda: AT + 2 * HOUR, {untempered.JOB: untempered.work})
    assert not Message.objects.exists()


def test_hard_heads_are_the_first_line_of_the_day_and_of_the_night() -> None:
    now = clock.now()
    hardened(now - 3 * HOUR)
    page = text(client_of("hand").get("/"))
    assert page.index("should have been in the temper by") < 400, page[:600]
    body = night.compute(at=now, today=now.date())
    assert body["parts"][0]["key"] == "temper"
    assert body["headline"].startswith("Six heads hard and not tempered")


def test_a_count_with_more_rejects_than_chance_reaches_the_night_and_its_chart() -> None:
    made = forge.make_forge(blanks=200)
    for number in range(5):
        forge.count(made.start(20, at=AT + number * DAY), FIRST, 20, at=AT + number * DAY)
    late = AT + 10 * DAY
    forge.count(made.start(20, at=late), FIRST, 13, Reject(7), at=late)
    (signal,) = learned.signals(since=late - HOUR)
    assert signal.count.scrap == 7
    body = night.compute(at=late + HOUR, today=late.date())
    (part,) = [part for part in body["parts"] if part["key"] == "rejects"]
    assert part["lines"][0]["figure"] == "7"
    chart = learned.chart_of(made.pattern, "first forging heat")
    assert chart is not None
    assert chart.chart.signals == [5]
    assert "7 of 20" in text(client_of("hand").get("/floor/rejects"))


def test_one_reject_of_seven_is_no_signal_where_rejects_are_rare() -> None:
    made = forge.make_forge(blanks=200)
    for number in range(5):
        forge.count(made.start(20), FIRST, 20, at=AT + number * DAY)
    forge.count(made.start(7), FIRST, 6, Reject(1), at=AT + 9 * DAY)
    assert learned.signals(since=AT) == []


def test_bottles_changed_teach_how_many_pieces_a_bottle_lasts() -> None:
    made = forge.make_forge(blanks=120)
    gas = makers.make_item(Item.Kind.CONSUMABLE, unit="mg", buy_unit="bottle", issue_per_buy=18_000_000)
    for number in range(4):
        with transaction.atomic():
            floor_notes.note(FloorNote.What.BOTTLE, stamp=makers.stamp(at=AT + number * DAY), item=gas)
        forge.count(made.start(25), FIRST, 25, at=AT + number * DAY + HOUR)
    (found,) = used_up.bottles()
    assert (found.use.intervals, found.use.pieces, found.since) == (3, 75, 25)
    assert found.lasts is not None
    low, high = found.lasts[1:]
    assert low <= 41 <= high, "25 pieces a bottle, drawn towards no known use worth 50 pieces"


def test_tooling_is_dressed_after_its_pieces_and_another_set_replaces_it() -> None:
    made = forge.make_forge(blanks=100)
    machines = forge.make_machines()
    with transaction.atomic():
        other = tooling_sets.add_tooling("T9", "flatter", [machines["HAMMER"]], at=AT, by=makers.actor())
        (four,) = [one.tooling for one in tooling.sets() if one.tooling.code == "T4"]
        tooling_sets.change_tooling(four, "in", at=AT, by=makers.actor())
    run = made.start(60)
    forge.count(run, FIRST, 60)
    (found,) = [one for one in tooling.sets() if one.tooling.code == "T4"]
    assert (found.is_in, found.since_dressed, found.to_dress) == (True, 60, True)
    with transaction.atomic():
        tooling_sets.change_tooling(four, "dressed", at=AT + HOUR, by=makers.actor())
        tooling_sets.change_tooling(other, "in", at=AT + HOUR, by=makers.actor())
    (found,) = [one for one in tooling.sets() if one.tooling.code == "T4"]
    assert (found.is_in, found.since_dressed, found.to_dress) == (False, 0, False)
    assert tooling.is_in(other)


def test_a_point_counted_afresh_forgets_what_was_before() -> None:
    made = forge.make_forge()
    run = made.start(20)
    forge.count(run, FIRST, 10, Reject(10), at=AT)
    walk = along.walk(run.route)
    assert learned.rates(made.pattern, walk)[0].rejected == 10
    with transaction.atomic():
        routes.count_afresh(made.pattern, "first forging heat", at=AT + HOUR, by=makers.actor())
    assert learned.rates(made.pattern, along.walk(run.route))[0].rejected == 0


def test_minutes_are_learned_only_from_counts_that_said_them() -> None:
    made = forge.make_forge(blanks=60)
    forge.count(made.start(10), FIRST, 10, minutes=60, people=2)
    forge.count(made.start(10), FIRST, 10)
    (first, *_) = learned.minutes(made.pattern, along.walk(made.pattern.routes.get()))
    assert first.pace.records == 1
    assert first.pace.seconds_each == (3 * 240 + 720) / 4, "720 s a piece, and the route's 240 worth three counts"


def counted(made: forge.Forge, good: int, cracked: int, at: dt.datetime) -> None:
    """Count a run of its own at the first forging heat."""
    made.blanks(good + cracked, at=at)
    run = made.start(good + cracked, at=at)
    lost = [Reject(cracked, forge.cause(run, "cheek split"))] if cracked else []
    forge.count(run, FIRST, good, *lost, at=at)


def test_a_rare_cause_that_creeps_up_is_said_though_no_single_count_shows_it() -> None:
    made = forge.make_forge()
    for week in range(12):
        counted(made, 40 if week % 4 else 39, 0 if week % 4 else 1, AT + week * DAY)
    last = AT + 12 * DAY
    assert creeping.found(since=AT + 11 * DAY) == [], "three in 480 are usual"
    for number in range(4):
        counted(made, 22, 2 if number else 1, last + number * HOUR)
    (one,) = creeping.found(since=last)
    assert (one.cause, one.point, one.usual) == ("cheek split", "first forging heat", 0.007)
    assert learned.signals(since=last) == [], "each count alone is nothing unusual"
    body = night.compute(at=last + 5 * HOUR, today=last.date())
    (part,) = [part for part in body["parts"] if part["key"] == "rejects"]
    assert "Too few to show in one count; look for what has changed." in str(part)
    assert f"cheek split in {one.pieces} of cross peen 2 lb at first forging heat:" in str(part)
    assert one.rejects >= 5
    assert one.pieces <= 240
    made_afresh = AT + 12 * DAY - HOUR
    with transaction.atomic():
        routes.count_afresh(made.pattern, "first forging heat", at=made_afresh, by=makers.actor())
    assert creeping.found(since=last) == [], "counted afresh there is nothing yet to compare with"

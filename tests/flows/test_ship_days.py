"""Days asked and given: what they rest on, when they are refused as stale, what becomes of them."""

import datetime as dt
import json

import pytest
from django.core.management import call_command

from inventory.models import Item, ItemStock, Step
from inventory.services.count_facts import Reject
from orders.calc.dates_json import answering, reading, writing
from orders.models import Order, Promise, PromiseBasis, Question, RatedPromise
from orders.services import ordering, queueing
from orders.services.ordering import Terms, Wanted
from orders.services.promising import StaleAnswer
from shop.flows import checking
from shop.flows.ship_days import asking, giving, letting_go, rating
from shop.flows.ship_days.asking import Asked
from shop.flows.ship_days.giving import Day
from shop.shared import append_only
from shop.shared.errors import Invalid, Refusal
from shop.shared.transactions import entry_point
from tests import forge, makers
from tests.forge import FIRST, Forge
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]

TODAY = AT.date()
BY = makers.actor()


@pytest.fixture(autouse=True)
def _whole(db: None):
    make_shop()
    make_person("owner", login="ada")
    make_person("hand", login="bo")
    yield
    assert checking.check_book(whole=True) == []


def asked(item: Item, pieces: int, *, at: dt.datetime = AT, **facts: object) -> Question:
    found = asking.ask(Asked(((item, pieces),), **facts), at=at, by=BY)  # type: ignore[arg-type]
    assert found.state == Question.State.ANSWERED, found.why_failed
    return found


def given(question: Question, item: Item, pieces: int, *, at: dt.datetime = AT, **facts: object) -> Order:
    with entry_point():
        return giving.give(
            question,
            makers.make_customer(),
            [Wanted(pieces, item)],
            Terms(),
            Day(**facts),
            at=at,
            by=BY,  # type: ignore[arg-type]
        )


def day_of(question: Question) -> dt.date:
    return dt.date.fromisoformat(question.answer["day"])


def chance(order: Order) -> int:
    return RatedPromise.objects.get(promise__order=order, promise__superseded_by=None).chance_ppm


def rate(at: dt.datetime = AT) -> bool:
    return rating.run_if_due(lambda: at)


def test_pieces_on_the_shelf_go_with_the_next_carrier() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    question = asked(item, 5)
    assert question.answer["day"] == TODAY.isoformat()
    assert question.answer["curve"][0] == {"day": TODAY.isoformat(), "chance": 1.0}
    order = given(question, item, 5)
    line = makers.line_of(order)
    assert (line.reserved, line.waiting) == (5, 0)
    promise = Promise.objects.get(order=order)
    assert (promise.day, promise.chance_ppm, promise.wanted_chance_ppm) == (TODAY, 1_000_000, 900_000)


def test_what_has_to_be_made_gets_a_place_and_a_day_that_can_be_worked_out_again() -> None:
    made = forge.make_forge()
    question = asked(made.tool.item, 6)
    assert question.answer["day"] > TODAY.isoformat()
    order = given(question, made.tool.item, 6)
    promise = Promise.objects.select_related("basis").get(order=order)
    assert promise.basis is not None
    document = writing.unpack(promise.basis.inputs["packed"])
    (again,) = answering.answered(reading.read(json.dumps(document)))["answers"]
    assert again["day"] == promise.day.isoformat()
    by_day = {point["day"]: point["chance"] for point in again["curve"]}
    assert round(by_day[again["day"]] * 1_000_000) == promise.chance_ppm


def test_a_day_asked_before_the_shop_changed_is_refused_and_nothing_is_taken() -> None:
    made = forge.make_forge()
    first, second = asked(made.tool.item, 6), asked(made.tool.item, 6)
    given(first, made.tool.item, 6)
    before = Order.objects.count()
    with pytest.raises(StaleAnswer):
        given(second, made.tool.item, 6)
    assert Order.objects.count() == before
    anew = asking.ask_again(second, at=AT, by=BY)
    assert anew.answer["day"] >= second.answer["day"]
    order = given(anew, made.tool.item, 6)
    assert rate()
    assert chance(order) == round(_stated_chance(anew) * 1_000_000)


def test_what_another_item_sells_leaves_an_answer_as_it_is() -> None:
    item, other = makers.make_item(), makers.make_item()
    makers.put_in(item, 5)
    makers.put_in(other, 5)
    question = asked(item, 5)
    makers.make_hold(other, 2)
    assert given(question, item, 5).number


def test_a_hold_that_has_lapsed_and_was_not_swept_keeps_no_day_from_being_given() -> None:
    tool, item, later = slow_forge().tool.item, makers.make_item(), AT + dt.timedelta(hours=1)
    makers.put_in(item, 5)
    makers.make_hold(item, 2)
    question = asked(item, 5, at=later)
    assert question.answer["day"] == TODAY.isoformat()
    assert makers.line_of(given(question, item, 5, at=later)).reserved == 5
    makers.put_in(tool, 5)
    makers.make_hold(tool, 2)
    waits = makers.make_order({tool: 6})
    question = asking.ask_for(waits, at=later, by=BY)
    assert makers.line_of(waits).reserved == 5
    with entry_point():
        giving.give_for(question, Day(), at=later, by=BY)
    assert Promise.objects.filter(order=waits).count() == 1


def test_other_lines_than_were_asked_for_are_refused() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    question = asked(item, 5)
    with pytest.raises(Invalid, match="the day was asked for 5 of"):
        given(question, item, 4)


def slow_forge(blanks: int = 40) -> Forge:
    """Make a forge in which a piece takes a third of an hour at each step that is worked."""
    made = forge.make_forge(blanks=blanks)
    Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=1200)
    return made


def test_a_day_that_is_not_sure_enough_wants_a_word() -> None:
    made = slow_forge()
    question = asked(made.tool.item, 6)
    with pytest.raises(Invalid, match="slips from the start"):
        given(question, made.tool.item, 6, day=TODAY)
    order = given(question, made.tool.item, 6, day=TODAY, knowingly=True)
    assert Promise.objects.get(order=order).chance_ppm == 0
    rate()
    assert RatedPromise.objects.get(promise__order=order).slips_since == AT


def test_a_day_lies_inside_the_customers_window() -> None:
    item = makers.make_item()
    makers.put_in(item, 9)
    later, question = TODAY + dt.timedelta(days=10), asked(item, 2)
    with entry_point():
        order = giving.give(
            question, makers.make_customer(), [Wanted(2, item)], Terms(not_before=later), Day(), at=AT, by=BY
        )
    assert Promise.objects.get(order=order).day == later
    question = asked(item, 2)
    with entry_point(), pytest.raises(Invalid, match="outside what order"):
        giving.give(
            question, makers.make_customer(), [Wanted(2, item)], Terms(not_before=later), Day(day=TODAY), at=AT, by=BY
        )


def test_an_order_in_two_parts_has_a_day_for_each() -> None:
    made = slow_forge()
    makers.put_in(made.tool.item, 4)
    soon = TODAY + dt.timedelta(days=1)
    question = asked(made.tool.item, 10, by_day=soon)
    parts = question.answer["by"]["split"]
    assert len(parts) == 2
    assert parts[0]["pieces"] >= 4
    order = given(question, made.tool.item, 10, split=True)
    days = list(Promise.objects.filter(order=order).order_by("line__number").values_list("line__ordered", "day"))
    assert days == [(part["pieces"], dt.date.fromisoformat(part["day"])) for part in parts]
    rate()
    rated = RatedPromise.objects.filter(promise__order=order).order_by("promise__line__number")
    assert [one.chance_ppm for one in rated] == [round(part["chance"] * 1_000_000) for part in parts]


def test_said_on_the_phone_keeps_stock_and_place_until_its_day_is_over() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    until = TODAY + dt.timedelta(days=2)
    order = given(asked(item, 5), item, 5, said_until=until)
    assert ItemStock.objects.get(pk=item.pk).allocated == 5
    assert letting_go.sweep(lambda: AT + dt.timedelta(days=2)) == 0
    assert letting_go.sweep(lambda: AT + dt.timedelta(days=3)) == 1
    order.refresh_from_db()
    assert order.let_go_at == AT + dt.timedelta(days=3)
    assert ItemStock.objects.get(pk=item.pk).allocated == 0
    with entry_point(), pytest.raises(Invalid, match="does not wait for a word"):
        giving.confirm(order, at=AT, by=BY)


def test_what_was_confirmed_is_kept() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    order = given(asked(item, 5), item, 5, said_until=TODAY + dt.timedelta(days=2))
    with entry_point():
        giving.confirm(order, at=AT, by=BY)
    assert letting_go.sweep(lambda: AT + dt.timedelta(days=3)) == 0
    assert makers.line_of(order).reserved == 5


def test_a_new_day_supersedes_the_old_one_and_both_stand_in_the_history() -> None:
    made = forge.make_forge()
    order = given(asked(made.tool.item, 6), made.tool.item, 6)
    later = AT + dt.timedelta(days=1)
    question = asking.ask_for(order, at=later, by=BY)
    with entry_point():
        giving.give_for(question, Day(reason="the oven is down"), at=later, by=BY)
    first, second = Promise.objects.filter(order=order).order_by("pk")
    assert (second.supersedes, second.reason) == (first, "the oven is down")
    assert second.day >= first.day


def test_an_order_of_old_gets_its_day_at_its_own_place() -> None:
    made = slow_forge()
    old = makers.make_order({made.tool.item: 6})
    makers.make_order({made.tool.item: 12})
    alone = asked(made.tool.item, 6)
    question = asking.ask_for(old, at=AT, by=BY)
    assert question.answer["day"] < alone.answer["day"]


def test_an_order_that_is_all_set_aside_gets_the_next_carriers_day() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    order = makers.make_order({item: 5})
    question = asking.ask_for(order, at=AT, by=BY)
    assert question.answer["day"] == TODAY.isoformat()
    with entry_point():
        giving.give_for(question, Day(), at=AT, by=BY)
    assert Promise.objects.get(order=order).chance_ppm == 1_000_000


def test_a_reject_makes_a_day_less_sure_and_says_so() -> None:
    made = slow_forge(blanks=24)
    run = made.start(12, wanted=10)
    order = given(asked(made.tool.item, 10), made.tool.item, 10)
    assert rate()
    assert not rate(), "nothing has changed since"
    before = chance(order)
    later = AT + dt.timedelta(days=2)
    forge.count(run, FIRST, 1, Reject(11, forge.cause(run, "cheek split")), at=later)
    assert rate(later)
    rated = RatedPromise.objects.get(promise__order=order)
    assert rated.chance_ppm < before == rated.before_ppm
    assert rated.slips_since == later


def test_an_owner_moves_an_order_and_it_is_served_first() -> None:
    item = makers.make_item()
    first, second = makers.make_order({item: 3}), makers.make_order({item: 3})
    with entry_point():
        queueing.move(second, first, at=AT, by=BY)
    makers.put_in(item, 3)
    with entry_point():
        ordering.reserve(makers.line_of(second), None, at=AT, by=BY)
    assert makers.line_of(second).reserved == 3
    assert makers.line_of(first).reserved == 0
    with entry_point(), pytest.raises(Refusal, match="before itself"):
        queueing.move(second, second, at=AT, by=BY)


def test_the_command_works_days_out_again_and_names_one_that_differs(capsys: pytest.CaptureFixture[str]) -> None:
    made = slow_forge()
    order = given(asked(made.tool.item, 6), made.tool.item, 6)
    makers.put_in(made.tool.item, 2)
    question = asking.ask_for(order, at=AT, by=BY)
    with entry_point():
        giving.give_for(question, Day(), at=AT, by=BY)
    call_command("recompute_days")
    assert "2 days given are worked out again and come out the same." in capsys.readouterr().out
    append_only.drop()
    first = Promise.objects.filter(order=order).order_by("pk")[0]
    Promise.objects.filter(pk=first.pk).update(chance_ppm=1, curve=[[first.day.isoformat(), 1]])
    with pytest.raises(SystemExit):
        call_command("recompute_days")
    assert f"Order {order.number}, promise {first.pk}: 1 in a million was stated" in capsys.readouterr().out
    Promise.objects.filter(pk=first.pk).update(chance_ppm=first.chance_ppm, curve=first.curve)
    append_only.ensure()


def test_the_same_basis_is_kept_once() -> None:
    item = makers.make_item()
    makers.put_in(item, 9)
    given(asked(item, 5), item, 5)
    assert PromiseBasis.objects.count() == 1


def _stated_chance(question: Question) -> float:
    return {point["day"]: point["chance"] for point in question.answer["curve"]}[question.answer["day"]]

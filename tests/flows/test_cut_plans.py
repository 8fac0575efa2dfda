"""A cut plan from the question to the saw: answered by the worker, taken, sawn, spoiled, let go, and never oversold."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Allocation, Bar, CutPlan, CutPlanBar, CutRules, Holding, Item, Melt
from inventory.queries import cuttable, rack
from inventory.services import saws, steel_items
from inventory.services.cut_asking import Buy, Question, Wanted
from inventory.services.cut_planning import PlanHasMovedOn, RackHasChanged
from inventory.services.cutting import NotToBeCut, SawJob
from inventory.services.reading import BarLength
from shop.flows import checking, cut_answering, cut_plans, doubting, reversing, sawing
from shop.flows.cut_plans import AtTheSaw
from shop.shared.errors import Invalid, NotFound, Stale
from shop.shared.models import Job
from shop.shared.units import NM_PER_INCH, parse_length
from tests import makers
from tests.makers import AT, FOOT_NM, actor, stamp
from tests.people import make_shop

pytestmark = pytest.mark.django_db
KERF = NM_PER_INCH // 16
LATER = AT + dt.timedelta(hours=1)


@pytest.fixture(autouse=True)
def _book_agrees(db: None):
    make_shop()
    yield
    assert checking.check_book() == []


def steel() -> Item:
    return Item.objects.filter(kind="bar").first() or makers.make_item(Item.Kind.BAR)


def bar_of(inches: int, **facts: object) -> Bar:
    """Put a bar on the rack; all are of one melt, so that one run may use them together."""
    melt = Melt.objects.filter(heat_number="0048213").first() or makers.make_melt("0048213")
    return makers.put_in(steel(), inches * NM_PER_INCH, **{"melt": melt, **facts}).bar


def blank_of(length: str) -> Item:
    with transaction.atomic():
        return steel_items.blank_item(
            makers.make_grade(), makers.make_section(), parse_length(length).nm, at=AT, by=actor()
        )


def asked(*wanted: Wanted, **more: object) -> CutPlan:
    question = Question(steel(), wanted, **{"kerf_nm": KERF, "seconds": 2, **more})
    with transaction.atomic():
        return cut_plans.ask(question, at=AT, by=actor())


def answered(*wanted: Wanted, **more: object) -> CutPlan:
    plan = asked(*wanted, **more)
    cut_answering.work({"plan": plan.pk}, AT)
    plan.refresh_from_db()
    return plan


def take(plan: CutPlan, choice: int = 0, version: int | None = None) -> list[CutPlanBar]:
    with transaction.atomic():
        return cut_plans.take(plan.number, choice, version=version, at=LATER, by=actor())


def taken(*wanted: Wanted, **more: object) -> CutPlan:
    plan = answered(*wanted, **more)
    take(plan)
    plan.refresh_from_db()
    return plan


def sawn(plan: CutPlan, *done: AtTheSaw, reason: str = "") -> list[sawing.CutDone]:
    with transaction.atomic():
        return cut_plans.sawn(plan.number, done, version=None, stamp=stamp(at=LATER, reason=reason))


def values(plan: CutPlan) -> dict[str, tuple[int, bool]]:
    return {row["level"]: (row["value"], row["proven"]) for row in plan.answers[0]["standings"]}


def test_a_question_is_answered_by_the_worker_and_proven() -> None:
    # 41-1/4 in gives 11 of 3-5/8 with eleven 1/16 kerfs: 40-9/16, and 11/16 in is scrap. Counted by hand.
    bar = makers.put_in(steel(), parse_length("41 1/4 in").nm).bar
    plan = answered(Wanted(blank_of("3 5/8 in"), 11))
    assert plan.state == "answered"
    assert Job.objects.get(kind=cut_plans.JOB).payload == {"plan": plan.pk}
    (row,) = plan.answers[0]["bars"]
    assert (row["bar"], row["pieces"], row["kept"]) == (bar.number, [1] * 11, False)
    assert row["left_nm"] == parse_length("11/16 in").nm
    assert values(plan)["short"] == (0, True)
    assert plan.answers[0]["missing"] == [0]


def test_bars_that_must_not_be_sawn_are_not_planned() -> None:
    bar_of(240, place="DOOR")
    held = bar_of(240)
    with transaction.atomic():
        doubting.out_of_use([held.lot], stamp=stamp(reason="a crack"))
    good = bar_of(40)
    plan = answered(Wanted(blank_of("10 in"), 4))
    assert [row["bar"] for row in plan.answers[0]["bars"]] == [good.number]
    assert plan.answers[0]["missing"] == [1]


def test_what_cannot_be_sawn_says_what_to_buy() -> None:
    bar_of(40)
    with transaction.atomic():
        saws.save_rules(CutRules(one_heat=False), at=AT, by=actor())
    plan = answered(
        Wanted(blank_of("10 in"), 6), buyable=[Buy(20 * FOOT_NM, 9_000, "20 ft"), Buy(60 * NM_PER_INCH, 2_500, "60 in")]
    )
    bought = [row for row in plan.answers[0]["bars"] if row["bought"]]
    assert [row["length_nm"] for row in bought] == [60 * NM_PER_INCH]
    assert values(plan)["cost"] == (2_500, True)
    assert len(take(plan)) == 1
    assert CutPlanBar.objects.count() == 1


def test_taking_a_plan_sets_its_bars_aside_and_nobody_else_saws_them() -> None:
    bar = bar_of(240)
    plan = taken(Wanted(blank_of("3 5/8 in"), 17))
    assert plan.state == "taken"
    holding = Holding.objects.get(lot=bar.lot, on_hand__gt=0)
    assert holding.allocated == holding.on_hand
    assert (
        cuttable.why_not(bar) == f"Bar {bar.number} is in cut plan {plan.number}; saw it from there, or drop the plan."
    )
    assert rack.one(bar.lot, at=AT).plan == plan.number
    assert not rack.one(bar.lot, at=AT).cuttable
    with transaction.atomic(), pytest.raises(NotToBeCut):
        sawing.cut(bar, SawJob(KERF, left=[BarLength(10, "x"), BarLength(10, "x")]), stamp=stamp())
    assert answered(Wanted(blank_of("3 5/8 in"), 1)).answers[0]["bars"] == []


def test_sawn_as_drawn_books_every_bar_in_one_go() -> None:
    bar_of(240), bar_of(40)
    blank = blank_of("3 5/8 in")
    plan = taken(Wanted(blank, 27))
    bars = list(plan.bars.select_related("bar"))
    done = sawn(plan, *(AtTheSaw(bar.bar.number) for bar in bars))
    plan.refresh_from_db()
    assert plan.state == "sawn"
    assert makers.stock(blank).sellable == 27
    assert sum(one.cut.pieces for one in done) == 27
    assert all(one.cut.difference_nm == 0 for one in done)
    assert [bar.cut_id for bar in plan.bars.order_by("pk")] == [one.cut.pk for one in done]
    assert not Allocation.objects.filter(closed_at=None).exists()
    for bar in bars:
        kept = Holding.objects.filter(lot__bar__parent=bar.bar)
        assert [one.on_hand for one in kept] == ([bar.left_nm] if bar.kept else [])


def test_a_bad_cut_spoils_two_blanks_and_the_tape_says_what_is_left() -> None:
    bar = bar_of(240)
    blank = blank_of("10 in")
    plan = taken(Wanted(blank, 12))
    # Ten good, two spoiled: 12 pieces and 12 kerfs come to 120-3/4, so 119-1/4 would be left; 119-1/8 was taped.
    (done,) = sawn(
        plan, AtTheSaw(bar.number, good={1: 10}, left=BarLength(parse_length("119 1/8 in").nm, "119 1/8 in"))
    )
    cut = done.cut
    assert cut.pieces == 10
    assert cut.trim_nm == 20 * NM_PER_INCH + KERF
    assert cut.difference_nm == NM_PER_INCH // 8
    assert makers.stock(blank).sellable == 10
    plan.refresh_from_db()
    assert plan.state == "sawn"


def test_one_bar_sawn_and_the_rest_dropped_lets_the_rest_go() -> None:
    first, second = bar_of(42), bar_of(43)
    plan = taken(Wanted(blank_of("10 in"), 8))
    sawn(plan, AtTheSaw(first.number))
    with transaction.atomic():
        assert cut_plans.drop(plan.number, version=None, at=LATER, by=actor()) == 1
    plan.refresh_from_db()
    assert plan.state == "sawn"
    assert Holding.objects.get(lot=second.lot, on_hand__gt=0).allocated == 0
    assert cuttable.why_not(second) == ""


def test_a_dropped_plan_restores_all_and_is_dropped_once() -> None:
    bar = bar_of(42)
    plan = taken(Wanted(blank_of("10 in"), 4))
    with transaction.atomic():
        cut_plans.drop(plan.number, version=None, at=LATER, by=actor())
    plan.refresh_from_db()
    assert plan.state == "dropped"
    assert cuttable.why_not(bar) == ""
    with transaction.atomic(), pytest.raises(PlanHasMovedOn):
        cut_plans.drop(plan.number, version=None, at=LATER, by=actor())


def test_a_plan_dropped_while_it_is_worked_out_is_not_answered() -> None:
    bar_of(42)
    plan = asked(Wanted(blank_of("10 in"), 4))
    with transaction.atomic():
        cut_plans.drop(plan.number, version=None, at=LATER, by=actor())
    cut_answering.work({"plan": plan.pk}, AT)
    plan.refresh_from_db()
    assert (plan.state, plan.answers) == ("dropped", [])


def test_a_bar_sawn_meanwhile_keeps_the_plan_from_being_taken() -> None:
    bar, other = bar_of(42), bar_of(43)
    plan = answered(Wanted(blank_of("10 in"), 8))
    with transaction.atomic():
        sawing.cut(
            bar,
            SawJob(KERF, own_nm=NM_PER_INCH, left=[BarLength(40 * NM_PER_INCH, "40 in")]),
            stamp=stamp(reason="a drift"),
        )
    with transaction.atomic(), pytest.raises(RackHasChanged) as caught:
        take(plan)
    assert bar.number in caught.value.sentence
    assert Holding.objects.get(lot=other.lot, on_hand__gt=0).allocated == 0
    assert not CutPlanBar.objects.exists()


def test_two_plans_for_the_same_bars_are_not_both_taken() -> None:
    bar_of(42)
    first, second = answered(Wanted(blank_of("10 in"), 4)), answered(Wanted(blank_of("10 in"), 3))
    take(first)
    with transaction.atomic(), pytest.raises(RackHasChanged) as caught:
        take(second)
    assert f"cut plan {first.number}" in caught.value.sentence


def test_a_plan_looked_at_before_it_changed_is_not_taken() -> None:
    bar_of(42)
    plan = answered(Wanted(blank_of("10 in"), 4))
    with transaction.atomic(), pytest.raises(Stale):
        take(plan, version=plan.version - 1)
    assert len(take(plan, version=plan.version)) == 1
    with transaction.atomic(), pytest.raises(PlanHasMovedOn):
        take(plan)


def test_a_bar_that_is_lost_leaves_the_plan() -> None:
    lost, other = bar_of(42), bar_of(43)
    plan = taken(Wanted(blank_of("10 in"), 8))
    with transaction.atomic():
        doubting.out_of_use([lost.lot], stamp=stamp(at=LATER, reason="a crack"))
    states = dict(plan.bars.values_list("bar__number", "state"))
    assert states == {lost.number: "left alone", other.number: "to saw"}
    plan.refresh_from_db()
    assert plan.state == "taken"


def test_a_cut_taken_back_gives_the_bar_back_whole() -> None:
    bar = bar_of(42)
    plan = taken(Wanted(blank_of("10 in"), 4))
    (done,) = sawn(plan, AtTheSaw(bar.number))
    with transaction.atomic():
        reversing.reverse(done.cut.entry_id, stamp=stamp(at=LATER, reason="typed at the wrong bar"))
    assert plan.bars.get().state == "left alone"
    assert cuttable.why_not(bar) == ""


def test_a_run_stays_with_one_mill_heat_unless_the_shop_says_otherwise() -> None:
    first, second = bar_of(42), bar_of(43, melt=makers.make_melt("77-1190"))
    plan = answered(Wanted(blank_of("10 in"), 8))
    assert [row["bar"] for row in plan.answers[0]["bars"]] in ([first.number], [second.number])
    assert plan.answers[0]["missing"] == [4]
    with transaction.atomic():
        saws.save_rules(CutRules(one_heat=False), at=AT, by=actor())
    assert answered(Wanted(blank_of("10 in"), 8)).answers[0]["missing"] == [0]


def test_lines_for_two_days_share_bars_and_one_row_of_the_cut() -> None:
    bar = bar_of(43)
    blank = blank_of("10 in")
    plan = taken(Wanted(blank, 2, dt.date(2026, 3, 9)), Wanted(blank, 2, dt.date(2026, 3, 20)))
    (done,) = sawn(plan, AtTheSaw(bar.number))
    assert [(kind.blank, kind.count) for kind in done.cut.kinds.all()] == [(blank, 4)]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"seconds": 0}, "seconds"),
        ({"wanted": []}, "pieces"),
        ({"count": 0}, "pieces"),
        ({"count": 2_001}, "pieces"),
        ({"item": "blank"}, "steel"),
        ({"blank": "bar"}, "pieces"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused_with_its_field(change: dict[str, object], field: str) -> None:
    blank = blank_of("10 in")
    bar_of(42)
    wanted = Wanted(steel() if change.get("blank") else blank, int(str(change.get("count", 1))))
    question = Question(
        blank if change.get("item") else steel(), change.get("wanted", [wanted]), KERF, seconds=change.get("seconds", 1)
    )
    with transaction.atomic(), pytest.raises(Invalid) as caught:
        cut_plans.ask(question, at=AT, by=actor())
    assert list(caught.value.fields) == [field]
    assert not CutPlan.objects.exists()


def test_more_good_blanks_than_drawn_and_a_strange_bar_are_refused() -> None:
    bar = bar_of(43)
    stranger = bar_of(3)
    plan = taken(Wanted(blank_of("10 in"), 4))
    for done, field in (
        (AtTheSaw(bar.number, good={1: 5}, scrap=True), "good"),
        (AtTheSaw(bar.number, good={2: 1}, scrap=True), "good"),
        (AtTheSaw(stranger.number), "bar"),
    ):
        with transaction.atomic(), pytest.raises(Invalid) as caught:
            sawn(plan, done)
        assert list(caught.value.fields) == [field]
    with pytest.raises(Invalid):
        sawn(plan)
    with transaction.atomic(), pytest.raises(NotFound):
        cut_plans.take(999, 0, version=None, at=AT, by=actor())
    assert plan.bars.get().state == "to saw"


def test_the_last_bar_left_alone_ends_the_plan() -> None:
    bar = bar_of(43)
    plan = taken(Wanted(blank_of("10 in"), 4))
    with transaction.atomic():
        cut_plans.leave_alone(plan.number, bar.number, version=None, at=LATER)
    plan.refresh_from_db()
    assert plan.state == "dropped"
    assert cuttable.why_not(bar) == ""

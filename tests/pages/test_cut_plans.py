"""Cut plans at the tablet: asked for what orders want, looked at, taken, sawn as drawn or with a bad cut, dropped."""

from collections.abc import Callable

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Bar, Blade, CutPlan, CutRules, Holding, Item, Pattern
from inventory.services import catalogue
from orders.queries import blanks_wanted
from orders.services.ordering import Terms, Wanted
from shop.flows import checking, cut_answering, cut_plans
from shop.shared.units import NM_PER_INCH
from tests import makers
from tests.makers import AT, actor
from tests.pages.hands import Hand
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def rods(db: None) -> Item:
    """A rack with two full bars and a remnant of one melt, and a blank of 3-5/8 in for a hammer of the shop."""
    return make_rods()


def make_rods() -> Item:
    make_shop()
    steel = makers.make_item(Item.Kind.BAR, code="B-1045-RD-2IN", name="1045 round 2 in")
    melt = makers.make_melt("0048213", grade=steel.grade)
    for inches in (240, 226):
        makers.put_in(steel, inches * NM_PER_INCH, melt=melt)
    with transaction.atomic():
        catalogue.add_item(
            at=AT, by=actor(), kind="blank", code="BL-CP2", name="blank, cross peen 2 lb", unit="piece",
            grade=steel.grade, section=steel.section, blank_length_nm=NM_PER_INCH * 29 // 8,
        )  # fmt: skip
    return steel


@pytest.fixture
def hand(rods: Item) -> Client:
    return client_of("hand")


def ask(hand: Client, **typed: str) -> CutPlan:
    blank = Item.objects.get(code="BL-CP2")
    count = typed.pop("count", "40")
    follow(hand, press(hand, "/rack/plans/new/B-1045-RD-2IN", **{f"count_{blank.pk}": count}, **typed))
    return CutPlan.objects.latest("number")


def answered(hand: Client, **typed: str) -> CutPlan:
    plan = ask(hand, **typed)
    cut_answering.work({"plan": plan.pk}, AT)
    plan.refresh_from_db()
    return plan


def test_a_plan_is_asked_for_and_its_page_looks_again_until_it_is_answered(hand: Client) -> None:
    plan = ask(hand)
    page = hand.get(f"/rack/plan/{plan.number}")
    assert page["Refresh"] == "2"
    assert "being worked out" in text(page)
    cut_answering.work({"plan": plan.pk}, AT)
    page = hand.get(f"/rack/plan/{plan.number}")
    assert "Refresh" not in page
    said = text(page)
    assert "proven, not guessed" in said
    assert "Cut 40 from bar" in said
    assert "mill heat 0048213" in said.lower()


def test_what_orders_wait_for_stands_in_the_form(hand: Client) -> None:
    tool = makers.make_tool(code="CP2")
    pattern = Pattern.objects.create(code="CP2", name="cross peen 2 lb")
    Item.objects.filter(code="BL-CP2").update(pattern=pattern)
    Item.objects.filter(pk=tool.head.pk).update(pattern=pattern)
    blank = Item.objects.get(code="BL-CP2")
    makers.put_in(tool.head, 2)  # two heads wait for handles: two blanks fewer
    order = makers.make_order([Wanted(qty=9, item=tool.item)], terms=Terms(day_given=AT.date()))
    needs = blanks_wanted.for_blanks([blank])[blank.pk]
    assert [(need.order, need.count, need.day) for need in needs] == [(order.number, 7, AT.date())]
    page = text(hand.get("/rack/plans/new/B-1045-RD-2IN"))
    assert f"7 for order {order.number}" in page
    plan = answered(hand, count="10")
    lines = [(line.count, line.due, line.words) for line in plan.lines.order_by("number")]
    assert lines == [(7, AT.date(), f"order {order.number}"), (3, None, "")]
    follow(hand, press(hand, f"/rack/plan/{plan.number}", take="1"))
    assert blanks_wanted.for_blanks([blank])[blank.pk] == [], "what is about to be sawn is not asked for twice"


def test_sawn_as_drawn_books_it_with_what_the_tape_says(hand: Client) -> None:
    plan = answered(hand)
    follow(hand, press(hand, f"/rack/plan/{plan.number}", take="1"))
    bar = plan.bars.get()
    said = text(follow(hand, press(hand, f"/rack/plan/{plan.number}", **{f"left_{bar.pk}": "7 ft 8 in"})))
    assert "40 blanks are in the book." in said
    kept = Bar.objects.get(parent=bar.bar)
    assert kept.typed == "7 ft 8 in"
    assert f"Paint {kept.number}" in said
    assert makers.stock(Item.objects.get(code="BL-CP2")).sellable == 40
    assert checking.check_book() == []


def test_steel_that_does_not_reach_says_what_to_buy_and_a_price_is_needed(hand: Client) -> None:
    said = text(press(hand, "/rack/plans/new/B-1045-RD-2IN", other="4 in", count_other="3", buy="20 ft"))
    assert "'20 ft' has no price; 20 ft at 95 would work." in said
    said = text(press(hand, "/rack/plans/new/B-1045-RD-2IN", other="4 in"))
    assert "write both, the length and how many" in said
    with transaction.atomic():
        CutRules(one_heat=False).save()
    plan = answered(hand, count="160")
    said = text(hand.get(f"/rack/plan/{plan.number}"))
    assert "cannot be cut" in said
    assert "of bar more is needed" in said
    plan = answered(hand, count="160", buy="20 ft at 95, 12 ft at 60")
    said = text(hand.get(f"/rack/plan/{plan.number}"))
    assert "To buy:" in said
    assert "cannot be cut" not in said


def test_a_plan_of_which_a_bar_is_lost_says_that_it_is_not_whole(hand: Client) -> None:
    with transaction.atomic():
        CutRules(one_heat=False).save()
    plan = answered(hand, count="100")
    follow(hand, press(hand, f"/rack/plan/{plan.number}", take="1"))
    bars = list(plan.bars.order_by("pk"))
    assert len(bars) == 2
    assert "Not whole" not in text(hand.get(f"/rack/plan/{plan.number}"))
    with transaction.atomic():
        cut_plans.leave_alone(plan.number, bars[0].bar.number, version=None, at=AT)
    said = text(hand.get(f"/rack/plan/{plan.number}"))
    assert f"of this plan are not sawn by it any more: {bars[0].bar.number} is left alone." in said
    assert "Ask anew" in said


def test_the_cut_sheet_goes_with_the_bar(hand: Client) -> None:
    plan = answered(hand)
    assert hand.get(f"/rack/plan/{plan.number}/sheet").status_code == 404, "only a plan that was taken goes to the saw"
    follow(hand, press(hand, f"/rack/plan/{plan.number}", take="1"))
    said = text(hand.get(f"/rack/plan/{plan.number}/sheet"))
    assert f"Cut sheet {plan.number}" in said
    assert "left, by tape" in said
    assert "no gloves near a running blade" in said


def test_a_blade_measured_anew_and_the_shops_rules_hold_for_the_next_plan(hand: Client) -> None:
    follow(
        hand,
        press(hand, "/rack/plans/blade", name="band saw", kerf="1/8 in", tail_hold="3 in", measured_on="2026-03-01"),
    )
    blade = Blade.objects.get()
    desk = client_of("desk")
    follow(desk, press(desk, "/rack/plans/rules", min_remnant="20 in", trim="1/2 in"))
    plan = answered(hand, saw=str(blade.pk))
    assert (plan.kerf_nm, plan.tail_hold_nm) == (NM_PER_INCH // 8, 3 * NM_PER_INCH)
    assert (plan.trim_nm, plan.min_remnant_nm) == (NM_PER_INCH // 2, 20 * NM_PER_INCH)
    assert "Trim 1/2 in off the mill end first." in text(hand.get(f"/rack/plan/{plan.number}"))
    assert client_of("hand").get("/rack/plans/rules").status_code == 403
    said = text(press(hand, "/rack/plans/blade", name="Band Saw", kerf="1/8 in", measured_on="2026-03-01"))
    assert "is in the list already" in said


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_at_a_tablet_plan_look_take_a_bad_cut_and_drop(
    live_server: object, at_a_tablet: Callable[..., Hand], record_property: Callable[[str, object], None]
) -> None:
    make_rods()
    blank = Item.objects.get(code="BL-CP2")
    hand = at_a_tablet(client_of("hand"), "rack")
    hand.touch(hand.on("Plan cuts"))
    hand.write(f"count_{blank.pk}", "100")
    hand.touch(hand.on("Ask for a plan"))
    hand.page.wait_for_url("**/rack/plan/*")
    plan = CutPlan.objects.get()
    cut_answering.work({"plan": plan.pk}, AT)  # the worker's part; the page finds it by itself
    hand.page.wait_for_selector("button[name=take]", timeout=10_000)
    hand.touch(hand.on("Take this plan"))
    hand.page.wait_for_selector("text=Sawn as drawn")
    first, second = plan.bars.select_related("bar").order_by("pk")
    hand.touch(hand.page.locator(f"a[href='/rack/plan/{plan.number}/bar/{first.bar.number}']"))
    box = hand.page.locator("[name=good_1]")
    box.fill(str(len(first.pieces) - 2))
    if first.kept:
        hand.page.locator("[name=left]").fill("30 in")
        hand.page.locator("[name=note]").fill("the blade ran off")
    else:
        hand.page.locator("[name=scrap]").check()
    hand.touch(hand.on("Book what came of it"))
    hand.page.wait_for_selector("text=blanks are in the book")
    assert makers.stock(blank).sellable == len(first.pieces) - 2
    hand.touch(hand.on("Drop this plan"))
    hand.page.wait_for_selector("text=is dropped")
    plan.refresh_from_db()
    assert plan.state == "sawn"
    assert Holding.objects.get(lot=second.bar.lot, on_hand__gt=0).allocated == 0
    record_property("cut plan", hand.told())
    assert hand.touches <= 12, hand.told()
    assert checking.check_book() == []

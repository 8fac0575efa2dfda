"""What the database itself refuses, whoever writes: every constraint of every table is broken here once, by hand.

The rows are those of a few busy days, booked through the services; each is then altered behind the services' backs.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.db.models import CheckConstraint, F, Model, UniqueConstraint

from inventory.models import (
    Bottle,
    BottleChange,
    Freight,
    Item,
    Machine,
    RefusedDemand,
    Run,
    StockCount,
    StockCountLine,
    Supplier,
    SupplierPrice,
)
from inventory.services import presence
from inventory.services.presence import Spell
from orders.models import ForShelf, Learned, Notice, Promise, WeekPin
from orders.services.ordering import Terms, Wanted
from shop.access.models import Person
from shop.flows.ship_days import asking, giving, rating
from shop.flows.ship_days.asking import Asked
from shop.flows.ship_days.giving import Day
from shop.shared import append_only, shop_row, shut_days
from shop.shared.hours import Hours
from shop.shared.models import Job, Message, RequestKey
from tests import makers
from tests.flows import busy_book
from tests.makers import AT

pytestmark = pytest.mark.django_db
APPS = ("inventory", "orders", "shared", "access")
DAY = dt.timedelta(days=1)

Change = dict[str, Any] | Callable[[Any], dict[str, Any]]
# constraint: alterations that it refuses, each with which row of its table is altered (any where nothing is said)
BROKEN: dict[str, list[tuple[dict[str, Any], Change]]] = {
    # items
    "step_number_from_one": [({}, {"number": 0})],
    "step_work": [({}, {"work": "dance"})],
    "step_stage": [({}, {"stage": "end"})],
    "step_rate_believed": [({}, {"good_ppm": 1_000_001}), ({}, {"prior_pieces": 0}), ({}, {"people": 0})],
    "step_temper_has_soak": [({"work": "temper"}, {"soak_minutes": 0}), ({"work": "temper"}, {"temperature_dc": 0})],
    "step_cause_rework": [({}, {"rework_to": 0})],
    "step_cause_handle": [({"handle_only": True}, {"second": True}), ({"handle_only": True}, {"rework_to": 1})],
    "step_use_something": [({}, {"per_hundred": 0})],
    "machine_holds_something": [({}, {"holds": 0})],
    "tooling_set_dressed_at": [({}, {"dress_at": 0})],
    "tooling_change_what": [({}, {"what": "lent"})],
    "pattern_hardness_window": [
        ({"hard_low__isnull": False}, {"hard_low": None}),
        ({"hard_low__isnull": False}, {"hard_high": 1}),
        ({"hard_low__isnull": False}, {"hard_high": 701}),
    ],
    "pattern_loss": [({}, {"loss_ppm": 900_001})],
    "pattern_weight_classes": [({}, {"light_below_mg": 2, "heavy_above_mg": 1})],
    "pattern_run_sizes": [({}, {"usual_run": 0}), ({}, {"usual_run": 61}), ({}, {"most_run": 1_001})],
    # who is out, what is down, the shop's days
    "away_in_order": [({}, {"last": F("first") - DAY})],
    "away_foreseen_has_last_day": [({}, {"ill": False, "last": None})],
    "machine_down_in_order": [({}, {"last": F("first") - DAY})],
    "shut_days_in_order": [({}, {"last": F("first") - DAY})],
    "shop_production": [
        ({}, {"opens_at": F("closes_at")}),
        ({}, {"production_percent": 4}),
        ({}, {"production_percent": 101}),
        ({}, {"carrier_days": ""}),
    ],
    "shop_chances": [
        ({}, {"sure_one_off": 49}),
        ({}, {"sure_one_off": 100}),
        ({}, {"sure_dealer": 49}),
        ({}, {"sure_dealer": 100}),
        ({}, {"slips_below": 0}),
        ({}, {"slips_below": 100}),
    ],
    # runs
    "run_kind": [({}, {"kind": "lost"})],
    "run_sure": [({}, {"sure_percent": 0}), ({}, {"sure_percent": 100})],
    "run_wanted": [({}, {"wanted": 0})],
    "run_count_is_all_taken": [({}, {"taken": F("taken") + 1}), ({}, {"good": F("good") + 1}), ({}, {"taken": 0, "good": 0, "scrap": 0, "second": 0, "rework": 0})],
    "run_count_weighed_of_good": [({}, {"light": F("good") + 1})],
    "run_count_minutes": [({}, {"minutes": 0})],
    "run_count_people": [({}, {"people": 0})],
    "count_reject_is_some": [({}, {"qty": 0})],
    "count_reject_fate": [({}, {"fate": "lost"})],
    "count_reject_saved_has_cause": [({"fate": "second"}, {"cause": None})],
    "head_weight_is_some": [({}, {"mass_mg": 0})],
    "oven_load_work": [({}, {"work": "bake"})],
    "oven_load_out_after_in": [({"out_at__isnull": False}, lambda row: {"out_at": row.in_at - DAY})],
    "oven_load_hot_after_in": [({}, lambda row: {"at_temperature_at": row.in_at - DAY})],
    "oven_load_answered_when_out": [({"out_at__isnull": False}, {"reached": None}), ({"out_at": None}, {"reached": True})],
    "oven_load_temper_soaks": [({"work": "temper"}, {"soak_minutes": 0})],
    "load_lot_is_some": [({}, {"qty": 0})],
    "hardness_method": [({}, {"method": "ear"})],
    "hardness_in_scale": [({}, {"low": 0}), ({}, {"high": 701}), ({}, {"low": F("high") + 1})],
    "floor_note_what": [({}, {"what": "stopped: lunch"})],
    "floor_note_bottle_of_something": [({"what": "bottle changed"}, {"item": None})],
    "handle_sort_is_some": [({}, {"good": 0, "bad": 0})],
    "handle_sort_scrap_is_booked": [({"bad__gt": 0}, {"entry": None})],
    "handle_sort_moisture": [({}, {"moisture_permille": 1001})],
    "run_for_line_quantity": [({}, {"qty": 0})],
    "brought_in_price": [({}, {"price_minor": -1})],
    "brought_in_given_back_when_done": [({"given_back_at__isnull": False}, {"done_at": None}), ({"given_back_at__isnull": False}, lambda row: {"given_back_at": row.came_at - DAY})],
    "item_kind": [({"kind": "head"}, {"kind": "sword"})],
    "item_bar_is_nm": [({"kind": "bar"}, {"unit": "piece"}), ({"kind": "tool"}, {"unit": "nm"})],
    "item_made_things_are_pieces": [({"kind": "head"}, {"unit": "mg"}), ({"kind": "tool"}, {"unit": "ul"})],
    "item_bar_has_steel": [({"kind": "bar"}, {"grade": None}), ({"kind": "bar"}, {"section": None})],
    "item_issue_per_buy": [({}, {"issue_per_buy": 0})],
    "item_prices_not_negative": [({}, {"retail_minor": -1}), ({}, {"dealer_minor": -1})],
    "item_reorder_not_negative": [({}, {"reorder_point": -1}), ({}, {"reorder_quantity": 0})],
    "recipe_quantity": [({}, {"quantity": 0})],
    "recipe_not_itself": [({}, {"part": F("tool")})],
    # steel
    "grade_density": [({}, {"density_ug_per_cm3": 999_999}), ({}, {"density_ug_per_cm3": 25_000_001})],
    "section_shape": [({}, {"shape": "star"})],
    "section_size": [({}, {"size_nm": 0}), ({}, {"size_nm": 10**9 + 1}), ({}, {"width_nm": 1}), ({}, {"shape": "flat"})],
    "melt_unknown_says_so": [({"known": True}, {"known": False})],
    "melt_has_heat_number": [({"known": True}, {"heat_number": ""})],
    "bar_length_sensible": [({}, {"length_nm": 0}), ({}, {"length_nm": 10**11 + 1})],
    "bar_sizes_are_two": [({"first_nm__isnull": False}, {"second_nm": None}), ({"first_nm__isnull": False}, {"first_nm": 0})],
    # papers
    "limit_row_names_its_paper": [({}, {"document": ""}), ({}, {"edition": ""}), ({}, {"source": ""})],
    "element_limit_is_one": [({"least_ppm": None}, {"most_ppm": None})],
    "element_limit_in_order": [({"least_ppm__isnull": False}, lambda row: {"most_ppm": row.least_ppm - 1})],
    "element_limit_is_a_share": [({"least_ppm": None}, {"most_ppm": 1_000_001})],
    "certificate_paper_type": [({}, {"paper_type": "4.1"})],
    "certificate_read_by_somebody": [({}, {"finding": "read and within limits", "read_by": ""})],
    "claim_says_something": [({}, {"words": ""})],
    "delivery_line_answer": [({}, {"answer": "perhaps"})],
    # the saw
    "cut_parts_are_the_whole": [
        ({}, {name: F(name) + 1})
        for name in (
            "taken_nm", "pieces_nm", "own_nm", "kerfs_nm", "trim_nm", "scrap_nm", "remnant_nm", "difference_nm",
        )
    ],
    "cut_nothing_negative": [({}, {"scrap_nm": -1, "trim_nm": F("trim_nm") + F("scrap_nm") + 1})],
    "cut_pieces_have_lengths": [({}, {"pieces": 0})],
    "cut_piece_is_some": [({}, {"count": 0}), ({}, {"piece_nm": 0})],
    "blade_sensible": [({}, {"kerf_nm": -1}), ({}, {"kerf_nm": 25_400_001}), ({}, {"tail_hold_nm": -1}), ({}, {"tail_hold_nm": 10**9 + 1})],
    "cut_rules_one_row": [({}, {"id": 2})],
    "cut_rules_sensible": [({}, {"min_remnant_nm": 0}), ({}, {"trim_nm": -1}), ({}, {"full_price_nm": -1})],
    "cut_plan_state": [({}, {"state": "begun"})],
    "cut_plan_taken_is_one": [({"state": "taken"}, {"chosen": None}), ({"state": "taken"}, {"taken_at": None})],
    "cut_plan_sensible": [({}, {"kerf_nm": -1}), ({}, {"min_remnant_nm": 0}), ({}, {"seconds": 0})],
    "cut_plan_line_is_some": [({}, {"count": 0}), ({}, {"piece_nm": 0})],
    "cut_plan_bar_set_aside": [
        ({"state": "to saw"}, {"allocation": None}),
        ({"state": "to saw"}, {"state": "sawn"}),
        ({"state": "to saw"}, {"state": "begun"}),
        ({"state": "sawn"}, {"cut": None}),
        ({"state": "sawn"}, {"state": "left alone"}),
    ],
    "cut_plan_bar_lengths": [({}, {"length_nm": 0}), ({}, {"trim_nm": -1}), ({}, {"left_nm": F("length_nm") + 1})],
    "shop_saw_and_scale": [({}, {"kerf_nm": -1}), ({}, {"scale_step_mg": 100_000_001}), ({}, {"tape_error_nm": -1})],
    "bar_mass": [({}, {"mass_mg": 0})],
    "bar_weighed_by": [({}, {"weighed_by": "a guess"})],
    "bar_not_its_own_parent": [({}, {"parent": F("lot")})],
    # the book
    "place_inside_by_kind": [({"code": "CUSTOMER"}, {"inside": True}), ({"code": "SHELF"}, {"inside": False, "sellable": False})],
    "place_sellable_by_kind": [({"code": code}, {"sellable": True}) for code in ("DOOR", "INSPECT", "NOT-USED", "OUT", "CUSTOMER")],
    "entry_reversal_names_it": [
        ({"kind": "reversal"}, {"reverses": None}),
        ({"kind": "reversal"}, {"kind": "move"}),
        ({"kind": "use"}, {"kind": "reversal"}),
    ],
    "entry_not_from_the_future": [({}, lambda row: {"happened_at": row.booked_at + DAY})],
    "entry_has_lines": [({}, {"lines": 0})],
    "lot_quality": [({}, {"quality": "third"})],
    "lot_cost": [({}, {"cost_minor": -1})],
    "lot_parent_quantity": [({}, {"quantity": 0})],
    "lot_parent_not_itself": [({}, {"parent": F("child")})],
    "holding_never_oversold": [
        ({}, {"allocated": -1}),
        ({}, lambda row: {"allocated": row.on_hand + 1}),
        ({"allocated__gt": 0}, {"on_hand": F("allocated") - 1}),
        ({"allocated": 0}, {"on_hand": -1}),
    ],
    "item_stock_never_oversold": [
        ({}, {"allocated": -1}),
        ({}, lambda row: {"allocated": row.sellable + 1}),
        ({"allocated__gt": 0}, {"sellable": F("allocated") - 1}),
    ],
    "item_stock_waiting": [({}, {"waiting": -1})],
    "movement_moves_something": [({}, {"qty": 0}), ({}, {"qty": -1})],
    "movement_goes_somewhere": [({}, {"to_place": F("from_place"), "to_step": F("from_step")})],
    "movement_mass": [({}, {"mass_mg": -1})],
    "movement_basis": [({}, {"basis": "a guess"})],
    "allocation_part_quantity": [({}, {"qty": 0})],
    "refused_demand_quantity": [({}, {"qty": 0})],
    "take_out_quantity": [({}, {"qty": 0, "back": 0}), ({"why": "show"}, {"back": -1}), ({"why": "show"}, {"back": F("qty") + 1})],
    "take_out_why": [({}, {"why": "lunch", "back": 0})],
    "take_out_comes_back": [({"why": "gift"}, {"back": 1})],
    # buying
    "supplier_terms": [({}, {"min_order_minor": -1}), ({}, {"order_cost_minor": -1})],
    "freight_step": [
        ({}, {"freight_minor": -1}), ({}, {"from_minor": -1}), ({}, {"from_mass_mg": -1}),
        ({}, {"from_minor": 1, "from_mass_mg": 1}),
    ],
    "supplier_price_figures": [({}, {name: value}) for name, value in (("length_nm", -1), ("from_qty", 0), ("price_minor", -1), ("bundle", 0))],
    "purchase_order_sent": [
        ({"sent_how": ""}, {"sent_how": "phone"}),
        ({"sent_how": ""}, {"sent_at": AT}),
        ({"sent_how": ""}, {"sent_how": "e-mail", "sent_at": AT}),
        ({"sent_how": ""}, {"sent_how": "printed", "sent_at": AT, "sent_to": "a@example.org"}),
    ],
    "bottle_state": [
        ({"state": "full"}, {"quarters": 3}),
        ({"state": "full"}, {"state": "part"}),
        ({"state": "full"}, {"state": "empty"}),
        ({"state": "full"}, {"state": "gone back", "quarters": 0, "in_use": True}),
        ({"state": "full"}, {"state": "lost", "quarters": 0}),
    ],
    "bottle_deposit": [({}, {"deposit_minor": -1})],
    "bottle_change_what": [({}, {"what": "shaken"}), ({}, {"quarters": 5})],
    "item_counted_and_stored": [({}, {"counted": "never"}), ({}, {"stored_as": "petrol"})],
    "item_limits": [
        ({}, {"service_percent": 49}), ({}, {"service_percent": 100}), ({}, {"shelf_life_days": 0}), ({}, {"most_kept": 0}),
    ],
    "stock_count_line_counted": [
        ({"counted": None}, {"counted": 3}),
        ({"counted": None}, {"expected": 3}),
        ({"counted": None}, {"counted_at": AT}),
        ({"counted__isnull": False}, {"counted": -1}),
        ({"counted__isnull": False}, {"expected": None}),
        ({"counted__isnull": False}, {"tolerance": -1}),
    ],
    "learned_figures": [({}, {"per_day": -1}), ({}, {"lead_days": -1}), ({}, {"service": 0}), ({}, {"service": 1})],
    "for_shelf_pieces": [({}, {"pieces": 0})],
    "for_shelf_started_or_dropped": [({"run__isnull": False}, {"dropped_at": AT})],
    "shop_buying": [
        ({}, {name: value})
        for name, value in (
            ("holding_percent", 101), ("order_cost_minor", -1), ("spend_minor", -1), ("lp_gas_most_mg", -1),
            ("flammable_most_ul", -1), ("weekly_day", 7), ("weekly_day", -1),
        )
    ],
    "shop_runs_dry": [({}, {name: value}) for name in ("dry_often", "dry_sometimes", "dry_seldom") for value in (49, 100)],
    "purchase_line_quantity": [({}, {"qty": 0}), ({}, {"received": -1})],
    "delivery_booked_has_entry": [({"state": "booked"}, {"entry": None}), ({"state": "booked"}, {"state": "draft"}), ({"state": "draft"}, {"state": "booked"})],
    "delivery_line_quantity": [({}, {"qty": 0})],
    # the order book
    "customer_kind": [({}, {"kind": "king"})],
    "order_money": [({}, {"deposit_minor": -1}), ({}, {"carriage_minor": -1})],
    "order_line_quantities": [({}, {name: -1}) for name in ("shipped", "cancelled", "price_minor")]
    + [({"reserved": 0}, {"reserved": -1}), ({"shipped": 0, "cancelled": 0, "reserved": 0, "gathers": False}, {"ordered": 0})],
    "order_line_adds_up": [({"gathers": False}, {"shipped": F("ordered") + 1}), ({"reserved__gt": 1, "gathers": False}, {"ordered": F("reserved") - 1 + F("shipped") + F("cancelled")})],
    "order_line_item_or_words": [({"item__isnull": False}, {"words": "and words"}), ({"item": None}, {"words": ""}), ({"item__isnull": False, "gathers": False}, {"item": None})],
    "order_line_options_go_with_item": [({"item": None}, {"options": "16 in handle"})],
    "order_line_file_goes_with_words": [({"item__isnull": False}, {"file": "a", "file_name": "a.pdf"}), ({"item": None}, {"file": "a"})],
    "order_line_reserved_has_allocation": [({"reserved__gt": 0}, {"allocation": None})],
    "order_line_gathers_only_while_it_waits": [
        ({"gathers": True}, {"cancelled": F("ordered") - F("shipped") - F("reserved")}),
        ({"item": None}, {"gathers": True}),
    ],
    "money_not_nothing": [({}, {"amount_minor": 0})],
    "hold_quantity": [({}, {"qty": 0})],
    "hold_phone_has_name": [({"kind": "phone"}, {"name": ""}), ({"kind": "minutes", "name": ""}, {"kind": "phone"})],
    "hold_open_has_allocation": [({"ended_at": None}, {"allocation": None}), ({"became__isnull": False}, {"ended_at": None})],
    "order_window": [({}, {"not_before": AT.date(), "not_after": AT.date() - DAY})],
    "customer_minimum": [({}, {"minimum_minor": -1})],
    "question_state": [({}, {"state": "perhaps"})],
    "question_wanted": [({}, {"wanted_ppm": 0}), ({}, {"wanted_ppm": 1_000_000})],
    "rating_one_row": [({}, {"id": 2})],
    "rated_chance": [({}, {"chance_ppm": 1_000_001}), ({}, {"before_ppm": 1_000_001})],
    "notice_answer": [({}, {"answer": "maybe", "answered_at": AT})],
    "notice_answered": [({}, {"answer": "agreed"}), ({}, {"answered_at": AT})],
    "week_pin_step": [({}, {"step": 0})],
    "release_in_order": [({}, {"closes_at": F("opens_at")})],
    "promise_calculated_has_basis": [({}, {"source": "calculated"})],
    "promise_chance": [({}, {"chance_ppm": 1_000_001}), ({}, {"wanted_chance_ppm": 1_000_001})],
    "shipment_parcels": [({}, {"parcels": 0})],
    "shipment_line_quantity": [({}, {"qty": 0})],
    "shipped_lot_quantity": [({}, {"qty": 0})],
    "return_quantity": [({}, {"inspected": F("qty") + 1}), ({}, {"inspected": -1}), ({"inspected": 0}, {"qty": 0})],
    "return_outcome_quantity": [({}, {"qty": 0})],
    "return_outcome_words": [({}, {"outcome": "lost"})],
    # the shop itself
    "shop_one_row": [({}, {"id": 2})],
    "shop_night_hour": [({}, {"night_hour": 24})],
    "shop_hours": [({}, {"closes_at": dt.time(0)}), ({}, {"open_days": ""})],
    "shop_hold_minutes": [({}, {"hold_minutes": 0}), ({}, {"hold_minutes": 1441})],
    "message_one_repeat": [({}, {"repeats": 2})],
    "message_sent_has_time": [({}, {"state": "sent"}), ({}, {"sent_at": AT})],
    "person_role": [({}, {"role": "king"})],
}  # fmt: skip


@pytest.fixture(scope="module")
def _days(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Rows of every table, made once and never committed; each test rolls its alteration back."""
    with django_db_blocker.unblock(), transaction.atomic():
        connection.atomic_blocks[-1]._from_testcase = True  # as Django's own test cases: durable blocks may nest in it
        shop_row.make(shop_row.Settings(name="Invented Forge"), at=AT, by="tests")
        busy_book.build()
        _rows_without_a_service()
        append_only.drop()  # so that the constraint refuses, and not the trigger before it
        yield
        transaction.set_rollback(True)


def _rows_without_a_service() -> None:
    """Tables whose services come later, or which only a request or the night writes."""
    makers.make_person("desk")
    tool = makers.make_item(Item.Kind.TOOL)
    makers.make_order([Wanted(qty=2, words="a gate latch as drawn")])
    spell, days = (
        Spell(AT.date(), AT.date() + DAY),
        {"today": AT.date(), "hours": Hours(), "at": AT, "by": makers.actor()},
    )
    presence.out(makers.make_person(), spell, **days)
    presence.down(Machine.objects.order_by("code")[0], spell, **days)
    shut_days.add(spell.first, spell.first, "fair day", at=AT, by="tests")
    _days_given()
    _bought_and_counted(tool)
    RefusedDemand.objects.create(item=tool, qty=1, available=0, at=AT)
    Job.objects.create(kind="night", dedupe="2026-03-02", due_at=AT)
    Message.objects.create(
        kind="night", local_date=AT.date(), recipient="a@example.org", message_id="<1@example.org>", subject="-",
        text="-", next_try_at=AT,
    )  # fmt: skip
    RequestKey.objects.create(client="c", method="POST", path="/", key="k" * 16, fingerprint="f", created_at=AT)


def _bought_and_counted(tool: Item) -> None:
    """A supplier's terms, a bottle, a count sheet half done, what was learned, and pieces for the shelf."""
    supplier, item = Supplier.objects.order_by("pk")[0], makers.make_item()
    Freight.objects.create(supplier=supplier, freight_minor=900)
    SupplierPrice.objects.create(supplier=supplier, item=item, price_minor=100, noted_on=AT.date())
    bottle = Bottle.objects.create(
        number="14", item=item, state="full", quarters=4, came_on=AT.date(), changed_at=AT, supplier=supplier
    )
    BottleChange.objects.create(bottle=bottle, what="came", quarters=4, at=AT, by="tests")
    lot = makers.put_in(item, 5)
    bar = makers.put_in(makers.make_item(Item.Kind.BAR), makers.FOOT_NM)
    sheet = StockCount.objects.create(number=1, name="the week's", opened_at=AT)
    place = {"count": sheet, "place": makers.place("BIN")}
    StockCountLine.objects.create(**place, number=1, item=item)
    StockCountLine.objects.create(**place, number=2, item=bar.item, lot=bar)
    StockCountLine.objects.create(
        **place, number=3, item=tool, counted=2, counted_at=AT, expected=3, tolerance=1, counted_by="tests"
    )
    Learned.objects.create(
        item=item, learned_on=AT.date(), method="mean", per_day=1, point=3, up_to=4, lead_days=7, service=0.95, basis={}
    )
    ForShelf.objects.create(item=tool, pieces=12, asked_at=AT)
    ForShelf.objects.create(item=tool, pieces=12, asked_at=AT, run=Run.objects.order_by("pk")[0])
    assert lot.item_id == item.pk


def _days_given() -> None:
    """A question about a day, the day given on it, its rating, a notice, and a line pinned on the week sheet."""
    item = makers.make_item()
    makers.put_in(item, 3)
    asked = asking.ask(Asked(((item, 2),)), at=AT, by=makers.actor())
    assert asked.state == "answered", asked.why_failed
    order = giving.give(asked, makers.make_customer(), [Wanted(2, item)], Terms(), Day(), at=AT, by=makers.actor())
    rating.run_if_due(lambda: AT)
    promise = Promise.objects.get(order=order)
    Notice.objects.create(order=order, promise=promise, told_at=AT, how="by e-mail", text="It will be later.")
    WeekPin.objects.create(run_code="A2", step=1, day=AT.date(), place=1, pinned_at=AT)


def _constraints(kind: type) -> dict[str, tuple[type[Model], Any]]:
    return {
        constraint.name: (model, constraint)
        for app in APPS
        for model in apps.get_app_config(app).get_models()
        for constraint in model._meta.constraints
        if isinstance(constraint, kind)
    }


CHECKS, ONCE = _constraints(CheckConstraint), _constraints(UniqueConstraint)
CASES = [
    pytest.param(name, where, change, id=f"{name}-{number}")
    for name, cases in BROKEN.items()
    for number, (where, change) in enumerate(cases)
]


def test_every_constraint_of_every_table_is_broken_here() -> None:
    assert set(BROKEN) == set(CHECKS)


@pytest.mark.usefixtures("_days")
@pytest.mark.parametrize(("name", "where", "change"), CASES)
def test_an_alteration_that_cannot_be_true_is_refused(name: str, where: dict[str, Any], change: Change) -> None:
    model = CHECKS[name][0]
    row = model._default_manager.filter(**where).order_by("pk").first()
    assert row is not None, f"the busy days left no such row: {model.__name__} {where}"
    changes = change(row) if callable(change) else change
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        model._default_manager.filter(pk=row.pk).update(**changes)


@pytest.mark.usefixtures("_days")
@pytest.mark.parametrize("name", sorted(ONCE))
def test_what_exists_once_is_not_inserted_again(name: str) -> None:
    model, constraint = ONCE[name]
    rows = model._default_manager.filter(constraint.condition) if constraint.condition else model._default_manager.all()
    if name == "stock_count_bar_once":  # a line without a bar is once by its item and place
        rows = rows.exclude(lot=None)
    row = rows.order_by("pk").first()
    if row is None:
        row = _make_missing(name)
    copy = model(**{field.attname: getattr(row, field.attname) for field in model._meta.concrete_fields})
    copy.pk, copy._state.adding = None, True
    for field in model._meta.concrete_fields:  # other columns that are unique by themselves must not be what refuses
        if field.unique and not field.primary_key and field.name not in constraint.fields:
            setattr(copy, field.attname, None if field.null else _another(getattr(row, field.attname)))
    if name == "load_lot_in_one_open_load":  # another load, or the rule of one lot a load refuses first
        copy.load_id = model._default_manager.exclude(load=row.load_id).values_list("load_id", flat=True)[0]
    if name == "stock_count_line_once":  # the same number for something else
        copy.item_id = Item.objects.exclude(pk=row.item_id).values_list("pk", flat=True)[0]
    if name in {"stock_count_bar_once", "stock_count_item_once"}:
        copy.number = 1_000
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        copy.save(force_insert=True)
    columns = [model._meta.get_field(name).column for name in constraint.fields]
    said = str(refused.value)
    assert name in said or all(f"{model._meta.db_table}.{column}" in said for column in columns), said


def _another(value: int | str) -> int | str:
    return value + 1_000_000 if isinstance(value, int) else f"{value}x"


def _make_missing(name: str) -> Model:
    assert name == "melt_one_unknown_per_grade", f"the busy days left no row for {name}"
    return makers.make_melt("unknown")


@pytest.mark.usefixtures("_days")
def test_nobody_of_the_book_can_be_deleted() -> None:
    """Rows that others name stay: a person who booked, a place where something stood, an item, a lot, a melt."""
    person = Person.objects.order_by("pk").first()
    assert person is not None
    with transaction.atomic():
        lot = makers.put_in(makers.make_item(Item.Kind.HEAD), 1, by=makers.Actor.of(person))
    for row in (person, lot.item, lot, lot.melt, makers.place("SHELF")):
        assert row is not None
        with pytest.raises(IntegrityError), transaction.atomic():
            row.delete()

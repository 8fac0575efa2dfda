"""Runs from blanks to the shelf: what is booked, what is refused and with which words, and what orders get of it."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Entry, Holding, Lot, Run, RunCount
from inventory.queries import along, learned, runs, short_runs
from inventory.services import run_counting, starting
from inventory.services.allocating import NotEnough
from inventory.services.count_facts import Reject, Seen
from inventory.services.floor_tally import Tally
from inventory.services.hafting import Hafted, NoHandles, StillCuring
from inventory.services.hardness import NotChecked, Reading
from inventory.services.ovens import Fire, Into, NotThisStep, NotTogether
from inventory.services.reversing import CannotReverse
from inventory.services.run_counting import NotSoMany, OvenFirst, Skipped
from inventory.services.starting import NotOneRun
from orders.models import OrderLine
from orders.services.ordering import Wanted
from shop.flows import checking, floor, reversing
from shop.shared.errors import Invalid
from shop.shared.hours import Hours
from tests import forge, makers
from tests.forge import CHECKED, FIRST, GROUND, HARDEN, HOUR, PACKED, SECOND, TEMPER
from tests.makers import AT
from tests.people import make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _whole(db: None):
    make_shop()
    yield
    assert checking.check_book(whole=True) == []


def to_the_oven(made: forge.Forge, qty: int = 10) -> Run:
    run = made.start(qty)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, qty)
    return run


def to_the_shelf(made: forge.Forge, qty: int = 10) -> Run:
    run = to_the_oven(made, qty)
    forge.harden(run, qty)
    forge.temper(run, qty)
    forge.check(run, qty)
    return run


def stands(run: Run) -> dict[tuple[str, int], int]:
    found: dict[tuple[str, int], int] = {}
    for holding in Holding.objects.filter(lot__run=run, on_hand__gt=0).select_related("place"):
        key = (holding.place.kind, holding.step)
        found[key] = found.get(key, 0) + holding.on_hand
    return found


# ---- beginning


def test_a_run_takes_blanks_of_one_mill_heat_and_gets_a_code_a_punch_cannot_mistake() -> None:
    made = forge.make_forge(blanks=40)
    run = made.start(28)
    assert stands(run) == {("floor", 0): 28}
    assert makers.stock(made.blank).sellable == 12
    assert len(run.code) <= 4
    assert not set(run.code) & set("O0I1")
    assert {lot.melt_id for lot in run.lots.all()} == {made.melt.pk}
    assert made.start(5).code != run.code


def test_codes_grow_from_two_signs_to_four_and_never_repeat() -> None:
    codes = []
    for number in (0, 191, 192, 1_727, 1_728, 14_015):
        from shop.shared.models import Series

        Series.objects.update_or_create(name="run", defaults={"next_number": number})
        with transaction.atomic():
            codes.append(starting.next_code())
    assert [len(code) for code in codes] == [2, 2, 3, 3, 4, 4]
    assert len(set(codes)) == len(codes)


def test_more_blanks_than_lie_free_of_one_mill_heat_are_refused_with_what_there_is() -> None:
    made = forge.make_forge(blanks=10)
    made.blanks(10, melt=makers.make_melt(grade=makers.make_grade()))
    with pytest.raises(NotEnough) as refused:
        made.start(11)
    assert "10 blanks" in refused.value.sentence
    assert Run.objects.count() == 0


@pytest.mark.parametrize("qty", [0, -1, 2_001])
def test_a_run_of_no_number_is_refused(qty: int) -> None:
    with pytest.raises(Invalid):
        forge.make_forge().start(qty)


def test_a_blank_of_another_pattern_is_refused() -> None:
    made, other = forge.make_forge(), forge.make_forge()
    with pytest.raises(Invalid), transaction.atomic():
        floor.start(starting.Start(made.head, other.blank, made.melt, 3), stamp=makers.stamp())


# ---- counting


def test_rejects_go_where_their_fate_sends_them_and_the_count_is_all_that_was_taken() -> None:
    made = forge.make_forge()
    run = made.start(20)
    off = forge.cause(run, "eye off centre")
    count = forge.count(run, FIRST, 16, Reject(1), Reject(1, off), Reject(2, off, "second"))
    assert (count.taken, count.good, count.scrap, count.second) == (20, 16, 2, 2)
    assert stands(run) == {("floor", FIRST): 16, ("seconds", 0): 2}


@pytest.mark.parametrize("name", ["cheek split", "cold shut", "quench crack"])
def test_a_split_a_cold_shut_and_a_crack_are_never_seconds(name: str) -> None:
    made = forge.make_forge()
    run = made.start(4)
    why = forge.cause(run, name)
    with pytest.raises(Invalid) as refused:
        forge.count(run, why.step.number, 3, Reject(1, why, "second"))
    assert "never a second" in refused.value.sentence


def test_a_point_that_was_passed_by_is_named_and_booked_in_one_touch() -> None:
    made = forge.make_forge()
    run = made.start(12)
    with pytest.raises(Skipped) as refused:
        forge.count(run, GROUND, 11, Reject(1))
    assert [one["step"] for one in refused.value.facts["skipped"]] == [FIRST, SECOND]
    assert RunCount.objects.count() == 0
    forge.count(run, GROUND, 11, Reject(1), catch_up=True)
    rows = list(RunCount.objects.order_by("pk").values_list("step__number", "taken", "good", "caught_up"))
    assert rows == [(FIRST, 12, 12, True), (SECOND, 12, 12, True), (GROUND, 12, 11, False)]


def test_what_was_booked_with_a_later_count_teaches_nothing() -> None:
    made = forge.make_forge()
    run = made.start(12)
    forge.count(run, GROUND, 12, catch_up=True)
    known = {one.step.number: one for one in learned.rates(made.pattern, along.walk(run.route))}
    assert (known[FIRST].good, known[GROUND].good) == (0, 12)


def test_more_than_the_book_has_before_a_step_is_refused_with_the_number() -> None:
    run = forge.make_forge().start(4)
    with pytest.raises(NotSoMany) as refused:
        forge.count(run, FIRST, 5)
    assert refused.value.facts == {"available": 4, "requested": 5}


def test_a_count_of_some_leaves_the_others_where_they_are() -> None:
    run = forge.make_forge().start(10)
    forge.count(run, FIRST, 6)
    assert stands(run) == {("floor", 0): 4, ("floor", FIRST): 6}


def test_a_count_that_is_undone_puts_every_piece_back_and_names_what_comes_first() -> None:
    run = forge.make_forge().start(10)
    first = forge.count(run, FIRST, 9, Reject(1))
    second = forge.count(run, SECOND, 9)
    with pytest.raises(CannotReverse) as refused, transaction.atomic():
        reversing.reverse(first.entry_id, stamp=makers.stamp())
    assert str(second.entry_id) in refused.value.sentence
    for count in (second, first):
        with transaction.atomic():
            reversing.reverse(count.entry_id, stamp=makers.stamp())
    assert stands(run) == {("floor", 0): 10}
    assert learned.rates(run.pattern, along.walk(run.route))[0].good == 0


def test_the_floor_counted_blind_books_what_is_unexplained() -> None:
    run = forge.make_forge().start(10)
    forge.count(run, FIRST, 10)
    with transaction.atomic():
        (short,) = floor.tally([Tally(run, FIRST, 9)], stamp=makers.stamp())
        (more,) = floor.tally([Tally(run, FIRST, 11)], stamp=makers.stamp())
        (same,) = floor.tally([Tally(run, FIRST, 11)], stamp=makers.stamp())
    assert [one.before for one in (short, more, same)] == [10, 9, 11]
    assert same.entry is None
    assert stands(run) == {("floor", FIRST): 11}


# ---- the oven


def test_no_count_gets_past_the_oven() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    with pytest.raises(OvenFirst):
        forge.count(run, CHECKED, 10, crack_checked=True, catch_up=True)
    forge.harden(run, 10)
    with pytest.raises(OvenFirst) as refused:
        forge.check(run, 10)
    assert "temper" in refused.value.sentence


def test_hardening_needs_a_trial_piece_or_a_reading_of_every_run() -> None:
    made = forge.make_forge()
    first, second = to_the_oven(made, 4), to_the_oven(made, 4)
    with pytest.raises(Invalid) as refused, transaction.atomic():
        floor.harden([Into(first, 4, "fine"), Into(second, 4)], Fire(8_450, "845 °C"), stamp=makers.stamp())
    assert second.code in refused.value.sentence
    with transaction.atomic():
        loaded = [Into(first, 4, "fine"), Into(second, 4, reading=Reading("rockwell", 620, 620))]
        load = floor.harden(loaded, Fire(8_450, "845 °C"), stamp=makers.stamp())
    assert load.lots.count() == 2
    assert load.hardness.get().inside is None, "as quenched it is harder than the window, and that is right"


def test_a_load_short_of_its_soak_leaves_its_pieces_to_be_tempered_again() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10)
    load = forge.temper(run, 10, hours=2)  # half an hour to heat up, two hours wanted
    assert load.reached is False
    assert stands(run) == {("floor", HARDEN): 10}
    with pytest.raises(OvenFirst):
        forge.check(run, 10)
    assert forge.temper(run, 10, at=AT + 4 * HOUR).reached is True
    assert stands(run) == {("floor", TEMPER): 10}


def test_the_soak_counts_from_when_the_load_came_to_temperature() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10)
    fire = Fire(2_040, "204 °C", 120, 30)
    with transaction.atomic():
        load = floor.temper_in([Into(run, 10)], fire, stamp=makers.stamp(at=AT))
    with transaction.atomic():
        out = floor.take_out(
            load, stamp=makers.stamp(at=AT + 3 * HOUR), at_temperature_at=AT + dt.timedelta(minutes=70)
        )
    assert out.reached is False, "110 minutes at temperature are no two hours"


def test_what_does_not_want_the_same_temper_does_not_go_together() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10)
    with pytest.raises(NotTogether), transaction.atomic():
        floor.temper_in([Into(run, 10)], Fire(2_600, "260 °C", 120), stamp=makers.stamp())
    with pytest.raises(NotTogether), transaction.atomic():
        floor.temper_in([Into(run, 10)], Fire(2_040, "204 °C", 60), stamp=makers.stamp())


def test_part_of_a_run_in_a_load_is_a_lot_of_its_own_and_traced_both_ways() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10)
    first, second = forge.temper(run, 6), forge.temper(run, 4, at=AT + 5 * HOUR)
    lots = [load.lots.get().lot for load in (first, second)]
    assert lots[0].pk != lots[1].pk
    assert {lot.run_id for lot in lots} == {run.pk}
    assert Lot.objects.filter(run=run).values("melt").distinct().count() == 1


def test_a_load_of_pieces_not_counted_before_it_is_refused_with_the_point() -> None:
    run = forge.make_forge().start(5)
    with pytest.raises(NotThisStep) as refused:
        forge.harden(run, 5)
    assert "first forging heat" in refused.value.sentence or "No piece" in refused.value.sentence


def test_a_reading_outside_the_published_window_keeps_heads_from_the_shelf() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10)
    forge.temper(run, 10)
    for hrc in (449, 601):
        with pytest.raises(NotChecked) as refused:
            forge.check(run, 10, hrc=hrc)
        assert "ASME B107.54" in refused.value.sentence
    with pytest.raises(NotChecked):
        forge.count(run, CHECKED, 10, crack_checked=True)
    with pytest.raises(NotChecked) as refused:
        forge.count(run, CHECKED, 10, reading=Reading("file pair", 500, 550))
    assert "cracks" in refused.value.sentence
    forge.count(run, CHECKED, 10, crack_checked=True, reading=Reading("file pair", 500, 550))
    assert stands(run) == {("shelf", 0): 10}


def test_a_soft_head_goes_back_to_hardening_and_through_the_temper_again() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10)
    forge.temper(run, 10)
    forge.check(run, 8, Reject(2, forge.cause(run, "soft face"), "rework"))
    assert stands(run) == {("floor", GROUND): 2, ("shelf", 0): 8}
    forge.harden(run, 2, at=AT + 5 * HOUR)
    forge.temper(run, 2, at=AT + 6 * HOUR)
    forge.check(run, 2, at=AT + 10 * HOUR)
    assert stands(run) == {("shelf", 0): 10}


def test_what_is_hard_and_not_tempered_is_said_with_its_time() -> None:
    made = forge.make_forge()
    run = to_the_oven(made)
    forge.harden(run, 10, at=AT)
    ((row, standing, by),) = runs.untempered(at=AT + HOUR, hours=Hours())
    assert (row.run.pk, standing.qty, by) == (run.pk, 10, AT + 2 * HOUR)
    forge.temper(run, 10, at=AT + HOUR)
    assert runs.untempered(at=AT + 9 * HOUR, hours=Hours()) == []


# ---- hafting and packing


def test_hafted_heads_cure_and_serve_the_orders_when_they_are_packed() -> None:
    made = forge.make_forge()
    order = makers.make_order({made.tool.item: 6})
    run = to_the_shelf(made)
    line = OrderLine.objects.get(order=order)
    assert line.reserved == 6, "heads, handles and wedges are set aside for it"
    forge.haft(made, run, 10, lost=1)
    line.refresh_from_db()
    assert line.reserved == 0
    assert makers.stock(made.tool.handle).sellable == 29
    with pytest.raises(StillCuring) as refused:
        forge.pack(run, 10, at=AT + HOUR)
    assert "dry_at" in refused.value.facts
    forge.pack(run, 10, at=AT + 13 * HOUR)
    line.refresh_from_db()
    assert line.reserved == 6
    assert makers.stock(made.tool.item).sellable == 10


def test_a_cure_is_released_early_only_by_name_and_reason() -> None:
    made = forge.make_forge()
    run = to_the_shelf(made)
    forge.haft(made, run, 10)
    with pytest.raises(StillCuring):
        forge.pack(run, 10, early=True)
    count = forge.pack(run, 10, early=True, reason="the carrier waits")
    assert count.early
    assert Entry.objects.get(pk=count.entry_id).reason == "the carrier waits"


def test_handles_that_are_short_are_named() -> None:
    made = forge.make_forge(handles=6)
    run = to_the_shelf(made)
    with pytest.raises(NoHandles) as refused:
        forge.haft(made, run, 10)
    assert refused.value.facts["short"] == 4
    forge.haft(made, run, 6)


def test_a_tool_that_is_not_of_this_head_is_refused() -> None:
    made, other = forge.make_forge(), forge.make_forge()
    run = to_the_shelf(made)
    with pytest.raises(Invalid), transaction.atomic():
        floor.haft(run, Hafted(other.tool.item, Seen(1)), stamp=makers.stamp())


def test_sorted_handles_lose_the_bad_ones_once() -> None:
    from inventory.services import hafting

    made = forge.make_forge(handles=36)
    lot = Lot.objects.get(item=made.tool.handle)
    before = hafting.unsorted([made.tool.handle])
    assert (before.lying, before.expected) == (36, 33)
    with transaction.atomic():
        floor.sort_handles(lot, 31, 5, stamp=makers.stamp(), moisture_permille=80)
    assert makers.stock(made.tool.handle).sellable == 31
    assert hafting.unsorted([made.tool.handle]).lying == 0


# ---- parted, joined, opened, short


def test_a_run_is_parted_and_joined_by_rule() -> None:
    made = forge.make_forge()
    run = made.start(10)
    forge.count(run, FIRST, 10)
    with transaction.atomic():
        other = floor.split(run, FIRST, 4, stamp=makers.stamp())
    assert (stands(run), stands(other)) == ({("floor", FIRST): 6}, {("floor", FIRST): 4})
    with transaction.atomic():
        floor.join(other, run, stamp=makers.stamp())
    assert stands(run) == {("floor", FIRST): 10}
    forge.count(run, SECOND, 10)
    late = made.start(3)
    with transaction.atomic():
        floor.join(late, run, stamp=makers.stamp())
    with pytest.raises(NotOneRun), transaction.atomic():
        floor.join(run, made.start(2), stamp=makers.stamp())


def test_runs_of_two_mill_heats_are_never_joined() -> None:
    made = forge.make_forge()
    other = makers.make_melt(grade=makers.make_grade())
    made.blanks(10, melt=other)
    one, two = made.start(3), made.start(3, melt=other)
    with pytest.raises(NotOneRun), transaction.atomic():
        floor.join(one, two, stamp=makers.stamp())


def test_heads_from_before_the_book_get_a_code_and_go_on_from_where_they_stand() -> None:
    made = forge.make_forge()
    lot = makers.put_in(made.head, 7, place="FLOOR", step=SECOND, melt=made.melt)
    with transaction.atomic():
        run = floor.open_run(Lot.objects.get(pk=lot.pk), stamp=makers.stamp())
    forge.count(run, GROUND, 7)
    assert stands(run) == {("floor", GROUND): 7}
    with pytest.raises(NotOneRun), transaction.atomic():
        floor.open_run(Lot.objects.get(pk=lot.pk), stamp=makers.stamp())


def test_a_run_that_is_short_while_its_tooling_is_in_says_what_a_top_up_gains() -> None:
    from inventory.models import ToolingSet
    from inventory.services import tooling_sets

    made = forge.make_forge(blanks=40)
    run = made.start(28, wanted=26)
    with transaction.atomic():
        tooling_sets.change_tooling(ToolingSet.objects.get(code="T4"), "in", at=AT, by=makers.actor())
    forge.count(run, FIRST, 25, Reject(3))
    short = short_runs.short(run)
    assert short is not None
    assert short.tooling_in
    assert short.missing >= 1
    assert (short.blanks, short.minutes_later - short.minutes_now) == (12, 30)
    with transaction.atomic():
        floor.top_up(run, made.blank, short.more, stamp=makers.stamp())
    assert short_runs.short(run) is None


def test_where_a_run_is_sure_enough_nothing_is_said() -> None:
    made = forge.make_forge()
    assert short_runs.short(made.start(40, wanted=20)) is None


def test_a_whole_life_leaves_every_piece_accounted_for() -> None:
    made = forge.make_forge()
    run = forge.whole_life(made, 28)
    assert runs.started_of([run.pk]) == {run.pk: 28}
    assert runs.row_of(run) is None
    packed = RunCount.objects.get(run=run, step__number=PACKED)
    assert packed.good == 25
    assert makers.stock(made.tool.item).sellable == 25


def test_the_second_write_of_a_count_that_fails_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    run = forge.make_forge().start(5)

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(run_counting, "note", broken)
    with pytest.raises(RuntimeError):
        forge.count(run, FIRST, 5)
    assert stands(run) == {("floor", 0): 5}
    assert not Entry.objects.filter(kind="run count").exists()


def test_a_made_to_order_run_is_tied_to_its_line() -> None:
    made = forge.make_forge()
    order = makers.make_order([Wanted(qty=1, words="a long-pattern head", price_minor=9_000)])
    line = OrderLine.objects.get(order=order)
    with transaction.atomic():
        run = floor.start(
            starting.Start(made.head, made.blank, made.melt, 2, 1, kind=Run.Kind.MADE_TO_ORDER),
            stamp=makers.stamp(), for_line=line,
        )  # fmt: skip
    assert run.for_line.line_id == line.pk
    whole = OrderLine.objects.get(order=makers.make_order({made.tool.item: 1}))
    with pytest.raises(Invalid), transaction.atomic():
        floor.start(starting.Start(made.head, made.blank, made.melt, 2), stamp=makers.stamp(), for_line=whole)


def test_handles_are_made_in_the_wood_room_from_boards_without_a_mill_heat() -> None:
    from inventory.models import Item, Pattern
    from inventory.services import routes

    with transaction.atomic():
        wood = Pattern.objects.create(code="HA16", name="handle 16 in")
        routes.seed_route(wood, "handles from boards", at=AT, by=makers.actor())
    board = makers.make_item(Item.Kind.CONSUMABLE, pattern=wood, name="hickory board, handle length")
    handle = makers.make_item(Item.Kind.HANDLE, pattern=wood)
    makers.put_in(board, 30)
    with transaction.atomic():
        run = floor.start(starting.Start(handle, board, None, 20, 17), stamp=makers.stamp())
    knot = run.route.steps.get(number=1).causes.get(name="knot")
    for number, good, rejects in ((1, 18, [Reject(2, knot)]), (2, 18, []), (3, 17, [Reject(1)])):
        forge.count(run, number, good, *rejects)
    assert makers.stock(handle).sellable == 17
    assert makers.stock(board).sellable == 10
    assert runs.started_of([run.pk]) == {run.pk: 20}
    with pytest.raises(Invalid), transaction.atomic():
        floor.start(starting.Start(handle, board, forge.make_forge().melt, 2), stamp=makers.stamp())

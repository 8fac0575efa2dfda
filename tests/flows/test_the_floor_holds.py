"""Whatever is counted in whatever order and taken back, the floor adds up: started = good + scrap + second + in process."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from inventory.models import Entry, Holding, Item, LoadLot, Lot, Melt, Movement, OvenLoad, Place, Run, RunCount, Step
from inventory.queries import along, balance, runs
from inventory.services.count_facts import Reject, Seen
from inventory.services.floor_tally import Tally
from inventory.services.hafting import Hafted
from inventory.services.hardness import Reading
from inventory.services.ledger import Stamp
from inventory.services.ovens import Fire, Into
from orders.services.ordering import Wanted
from shop.flows import floor, reversing
from shop.flows.checking import check_book
from shop.shared import transactions
from shop.shared.errors import Refusal
from tests import forge, makers
from tests.conftest import LONG
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
PHASES = [Phase.generate]
few, which = st.integers(0, 6), st.integers(0, 30)


class TheFloor(RuleBasedStateMachine):
    """One try: blanks of two mill heats, orders that wait, and everything that can happen to a head."""

    def __init__(self) -> None:
        super().__init__()
        self.at = makers.AT
        self.block = transaction.atomic()
        self.block._from_testcase = True  # type: ignore[attr-defined] # the durable blocks of entry points nest in it
        self.block.__enter__()

    def teardown(self) -> None:
        try:
            assert check_book() == []
            for stages in (balance.of_melt(melt) for melt in Melt.objects.all()):
                sheet = balance.whole(stages)
                assert sheet is None or sheet.received_mg == sum(row.mass_mg or 0 for row in sheet.rows)
                for stage in stages:
                    assert stage.came_qty == sum(row.qty for row in stage.parts), stage
                    assert stage.came_mg is None or stage.came_mg == sum(row.mass_mg or 0 for row in stage.parts)
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    @initialize()
    def the_shop(self) -> None:
        make_shop()
        self.forge = forge.make_forge(blanks=60, handles=20, wedges=60)
        self.forge.blanks(20, melt=makers.make_melt(grade=makers.make_grade()))
        makers.make_order([Wanted(qty=6, item=self.forge.tool.item), Wanted(qty=2, item=self.forge.head)])
        for qty in (9, 7, 5):
            self.forge.start(qty)

    def stamp(self, reason: str = "") -> Stamp:
        self.at += dt.timedelta(minutes=37)
        return makers.stamp(at=self.at, reason=reason)

    def do(self, action: Callable[[], Any]) -> Any:
        before = (Entry.objects.count(), RunCount.objects.count(), Lot.objects.count(), Run.objects.count())
        refusal = None
        try:
            with transactions.entry_point():
                return action()
        except Refusal as refused:
            refusal = refused
        assert refusal.sentence.endswith("."), refusal.sentence
        after = (Entry.objects.count(), RunCount.objects.count(), Lot.objects.count(), Run.objects.count())
        assert after == before, refusal.sentence
        return None

    def run_of(self, number: int) -> Run | None:
        found = list(Run.objects.filter(joined_into=None).order_by("pk"))
        return found[number % len(found)] if found else None

    @rule(qty=st.integers(1, 12), melt=st.booleans())
    def start(self, qty: int, melt: bool) -> None:
        other = Lot.objects.filter(item=self.forge.blank).order_by("-pk")[0].melt
        self.do(lambda: self._start(qty, self.forge.melt if melt else other))

    def _start(self, qty: int, melt: Any) -> Run:
        wanted = forge.Start(self.forge.head, self.forge.blank, melt, qty, max(1, qty - 2))
        return floor.start(wanted, stamp=self.stamp())

    @rule(number=which, step=st.sampled_from([1, 2, 3, 6]), good=few, bad=few, cause=few, fate=few, late=st.booleans())
    def count(self, number: int, step: int, good: int, bad: int, cause: int, fate: int, late: bool) -> None:
        run = self.run_of(number)
        if run is None:
            return
        at = forge.step(run, step)
        causes = [None, *at.causes.order_by("pk")]
        why = causes[cause % len(causes)]
        rejects = [Reject(bad, why, ("scrap", "second", "rework")[fate % 3])] if bad else []
        seen = Seen(good, rejects, crack_checked=True, reading=Reading("rockwell", 500, 500) if step == 6 else None)
        self.do(lambda: floor.count(run, at, seen, stamp=self.stamp(), catch_up=late))

    @rule(number=which, bad=st.integers(0, 2))
    def go_on(self, number: int, bad: int) -> None:
        """One step of the usual work."""
        self._go_on(number, bad)

    @rule(number=which)
    def go_on_to_the_end(self, number: int) -> None:
        """The usual work to the shelf, so that tries reach what comes last."""
        for _ in range(number % 9):
            self._go_on(number, 0)

    def _go_on(self, number: int, bad: int) -> None:
        """Do what a smith would do next with the biggest group of a run, so that tries reach the packing bench."""
        run = self.run_of(number)
        row = runs.row_of(run) if run is not None else None
        if run is None or row is None or row.most is None:
            return
        here = row.most
        self.at += dt.timedelta(hours=13)
        bad = min(bad, here.qty)
        rejects = [Reject(bad)] if bad else []
        seen = Seen(here.qty - bad, rejects, crack_checked=True, reading=Reading("rockwell", 520, 520))
        oven = row.walk.next_oven(here.step)
        if here.place == "cure":
            self.do(lambda: floor.pack(run, seen, stamp=self.stamp()))
        elif here.place == "shelf":
            self.do(lambda: floor.haft(run, Hafted(self.forge.tool.item, seen), stamp=self.stamp()))
        elif here.place == "oven" and here.load is not None:
            self.do(lambda: floor.take_out(here.load, stamp=self.stamp()))  # type: ignore[arg-type]
        elif oven is None:
            point = row.walk.next_point(here.step)
            assert point is not None
            self.do(lambda: floor.count(run, point, seen, stamp=self.stamp()))
        elif oven.work == Step.Work.HARDEN:
            self.do(lambda: floor.harden([Into(run, here.qty, "fine")], Fire(8_450, "845 °C"), stamp=self.stamp()))
        else:
            self.do(lambda: floor.temper_in([Into(run, here.qty)], Fire(2_040, "204 °C", 120), stamp=self.stamp()))

    @rule(number=which, qty=st.integers(1, 8))
    def harden(self, number: int, qty: int) -> None:
        run = self.run_of(number)
        if run is not None:
            fire = Fire(8_450, "845 °C")
            self.do(lambda: floor.harden([Into(run, qty, "fine")], fire, stamp=self.stamp()))

    @rule(number=which, other=which, qty=st.integers(1, 8))
    def temper(self, number: int, other: int, qty: int) -> None:
        loaded = {run.pk: Into(run, qty) for run in (self.run_of(number), self.run_of(other)) if run is not None}
        if loaded:
            fire = Fire(2_040, "204 °C", 120)
            self.do(lambda: floor.temper_in(list(loaded.values()), fire, stamp=self.stamp()))

    @rule(number=which, held=st.booleans())
    def take_out(self, number: int, held: bool) -> None:
        loads = list(OvenLoad.objects.filter(work="temper", entry__reversed_by=None).order_by("pk"))
        if loads:
            self.at += dt.timedelta(hours=3)
            load = loads[number % len(loads)]
            self.do(lambda: floor.take_out(load, stamp=self.stamp(), reached=held))

    @rule(number=which, good=few, lost=st.integers(0, 2), spoilt=st.integers(0, 1))
    def haft(self, number: int, good: int, lost: int, spoilt: int) -> None:
        run = self.run_of(number)
        if run is not None:
            seen = Seen(good, [Reject(spoilt)] if spoilt else [])
            self.do(lambda: floor.haft(run, Hafted(self.forge.tool.item, seen, lost), stamp=self.stamp()))

    @rule(number=which, good=few, bad=st.integers(0, 2), early=st.booleans())
    def pack(self, number: int, good: int, bad: int, early: bool) -> None:
        run = self.run_of(number)
        if run is not None:
            stamp = self.stamp("it is needed" if early else "")
            self.do(lambda: floor.pack(run, Seen(good, [Reject(bad)] if bad else []), stamp=stamp, early=early))

    @rule(number=which, step=st.sampled_from([0, 1, 2, 3, 4, 5]), qty=st.integers(1, 4))
    def part(self, number: int, step: int, qty: int) -> None:
        run = self.run_of(number)
        if run is not None:
            self.do(lambda: floor.split(run, step, qty, stamp=self.stamp()))

    @rule(number=which, other=which)
    def join(self, number: int, other: int) -> None:
        one, into = self.run_of(number), self.run_of(other)
        if one is not None and into is not None:
            self.do(lambda: floor.join(one, into, stamp=self.stamp()))

    @rule(number=which, step=st.sampled_from([0, 1, 2, 3, 4]), found=few)
    def tally(self, number: int, step: int, found: int) -> None:
        run = self.run_of(number)
        if run is not None:
            self.do(lambda: floor.tally([Tally(run, step, found)], stamp=self.stamp()))

    @rule(back=st.integers(0, 4))
    def undo(self, back: int) -> None:
        entries = list(Entry.objects.order_by("-pk").values_list("pk", flat=True)[: back + 1])
        self.do(lambda: reversing.reverse(entries[-1], stamp=self.stamp("undone")))

    @invariant()
    def every_run_adds_up(self) -> None:
        """Started is what came off well, was lost, sold as a second or found missing, and what is still in the works."""
        if not Run.objects.exists():
            return
        every = list(Run.objects.values_list("pk", flat=True))
        started = runs.started_of(every)
        for run in Run.objects.select_related("item"):
            heads = Holding.objects.filter(lot__run=run, item=run.item).aggregate(sum=Sum("on_hand"))["sum"] or 0
            gone = _net_to(run, "scrap") + _net_to(run, "count difference") + _net_to(run, "customer")
            worked = _net_to(run, "worked up", without=("run started", "oven", "run split"))
            assert started.get(run.pk, 0) == heads + gone + worked, run.code

    @invariant()
    def counts_add_up(self) -> None:
        for run in Run.objects.filter(joined_into=None, split_from=None):
            if run.joined.exists() or run.split_off.exists():
                continue
            sums = RunCount.objects.filter(run=run, entry__reversed_by=None, step__stage="head").aggregate(
                scrap=Sum("scrap"), second=Sum("second")
            )
            assert _net_to(run, "scrap", only=("run count",)) >= (sums["scrap"] or 0)
            seconds = Holding.objects.filter(lot__run=run, item=run.item, place__kind="seconds")
            assert int(seconds.aggregate(sum=Sum("on_hand"))["sum"] or 0) == (sums["second"] or 0)

    @invariant()
    def nothing_untempered_is_for_sale(self) -> None:
        """What stands on the shelf, hafted or packed went through a temper that held, and none is on hand twice."""
        shelf = Holding.objects.filter(
            lot__run__isnull=False, on_hand__gt=0, item__kind=Item.Kind.HEAD, place__sellable=True
        )
        for holding in shelf:
            assert LoadLot.objects.filter(lot=holding.lot, load__work="temper", load__reached=True).exists()
        assert not Holding.objects.filter(on_hand__lt=0).exists()


def _net_to(run: Run, kind: str, *, without: tuple[str, ...] = (), only: tuple[str, ...] = ()) -> int:
    moved = Movement.objects.filter(lot__run=run, item=run.item)
    if only:
        moved = moved.filter(entry__kind__in=only)
    to = moved.filter(to_place__kind=kind).exclude(entry__kind__in=without)
    back = moved.filter(from_place__kind=kind).exclude(entry__kind__in=without)
    # What an undoing brought back counts with the kind of what it undid.
    to = to.exclude(entry__reverses__kind__in=without) if without else to
    back = back.exclude(entry__reverses__kind__in=without) if without else back
    return int(to.aggregate(sum=Sum("qty"))["sum"] or 0) - int(back.aggregate(sum=Sum("qty"))["sum"] or 0)


def test_the_floor_adds_up_whatever_is_done() -> None:
    tries = 60 if LONG else 5
    run_state_machine_as_test(
        TheFloor, settings=settings(max_examples=tries, stateful_step_count=40, phases=PHASES, deadline=None)
    )


def test_the_steps_of_a_walk_are_what_the_machine_takes_them_for() -> None:
    made = forge.make_forge()
    run = made.start(2)
    walk = along.walk(run.route)
    assert [step.number for step in walk.points] == [1, 2, 3, 6, 7, 9]
    assert walk.last_of_head().number == forge.CHECKED  # type: ignore[union-attr]
    assert walk.next_oven(forge.GROUND).work == Step.Work.HARDEN  # type: ignore[union-attr]
    assert Place.objects.filter(kind="oven").count() == 1

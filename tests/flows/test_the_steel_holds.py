"""Whatever is done with steel in whatever order, it balances: received, looked at, sawn, re-measured, doubted, undone."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Sum
from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from inventory.models import Bar, Cut, CutPlanBar, DeliveryLine, Entry, Holding, Lot, LotParent, Melt, Movement, Place
from inventory.queries import balance
from inventory.services import correcting, purchasing, reading, steel_items
from inventory.services.cut_asking import Question, Wanted
from inventory.services.cutting import Blanks, SawJob
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.ledger import Stamp
from shop.flows import checking_in, cut_answering, cut_plans, delivering, doubting, reversing, sawing, stocktaking
from shop.flows.checking import check_book
from shop.flows.checking_in import LineLook
from shop.flows.cut_plans import AtTheSaw
from shop.shared import transactions
from shop.shared.errors import Refusal
from shop.shared.units import NM_PER_INCH
from tests import makers
from tests.conftest import LONG
from tests.people import make_shop
from tests.recomputed import differences

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
PHASES = [Phase.generate]
KERF = NM_PER_INCH // 16
LENGTHS = ("20 ft", "19 ft 11 1/2 in", "6.09 m", "5.74 m", "18 ft 10 in")
number = st.integers(0, 30)


class TheRack(RuleBasedStateMachine):
    """One try: a few melts, and everything that can happen to a bar."""

    def __init__(self) -> None:
        super().__init__()
        self.at = makers.AT
        self.block = transaction.atomic()
        self.block._from_testcase = True  # type: ignore[attr-defined] # the durable blocks of entry points nest in it
        self.block.__enter__()

    def teardown(self) -> None:
        try:
            assert check_book() == []
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    def stamp(self, reason: str = "") -> Stamp:
        self.at += dt.timedelta(minutes=7)
        return makers.stamp(at=self.at, reason=reason)

    def do(self, action: Callable[[], Any]) -> Any:
        before = (Entry.objects.count(), Cut.objects.count(), Lot.objects.count())
        refusal = None
        try:
            with transactions.entry_point():
                return action()
        except Refusal as refused:
            refusal = refused
        assert refusal.sentence.endswith("."), refusal.sentence
        assert (Entry.objects.count(), Cut.objects.count(), Lot.objects.count()) == before
        return None

    @staticmethod
    def pick(rows: Any, index: int) -> Any:
        found = list(rows.order_by("pk"))
        return found[index % len(found)] if found else None

    def bar(self, index: int) -> Bar | None:
        there = Bar.objects.filter(lot__holdings__on_hand__gt=0, lot__holdings__place__inside=True).distinct()
        return self.pick(there.select_related("lot__item__grade", "lot__item__section", "lot__melt", "section"), index)

    @initialize(taped=st.booleans(), heat=number)
    def a_lorry_in_the_morning(self, taped: bool, heat: int) -> None:
        make_shop()
        makers.make_grade("1045")
        self.a_lorry(taped=taped, heat=heat, bars=2)
        assert Bar.objects.exists()

    @rule(taped=st.booleans(), heat=number, bars=st.integers(1, 3))
    def a_lorry(self, taped: bool, heat: int, bars: int) -> None:
        line = PaperLine(
            grade="1045", shape="round", size="2 in", heat_number=f"H{heat % 3}" if heat % 4 else "unknown",
            bars=f"{bars} @ {LENGTHS[heat % len(LENGTHS)]}", measured="yes" if taped else "no", cost="120.01",
            certificate="to come",
        )  # fmt: skip

        def act() -> object:
            firm = purchasing.supplier_named("Invented Steel", at=self.at, by=makers.actor())
            return delivering.receive(firm, Paper([line]), stamp=self.stamp())

        assert self.do(act)

    @precondition(lambda _: Bar.objects.filter(measured=False).exists())
    @rule(index=number, sawn=st.booleans())
    def a_second_look(self, index: int, sawn: bool) -> None:
        waiting = DeliveryLine.objects.filter(lots__bar__measured=False).select_related("item", "delivery").distinct()
        line = self.pick(waiting, index)
        count = Bar.objects.filter(lot__delivery_line=line, measured=False).count()
        one = "9 ft 11 in + 10 ft 1 in" if sawn else LENGTHS[index % len(LENGTHS)]
        look = LineLook(line, lengths=f"{count} @ {one}", sizes="", scale="450 lb", weighed_by="own scale")
        self.do(lambda: checking_in.look([look], unit=None, place=None, stamp=self.stamp()))

    @rule(index=number, pieces=st.integers(0, 60), own=st.booleans(), left=st.integers(0, 3), off=st.integers(-40, 40))
    def the_saw(self, index: int, pieces: int, own: bool, left: int, off: int) -> None:
        bar = self.bar(index)
        if bar is None or bar.lot.item.grade is None:
            return
        there = sum(one.on_hand for one in Holding.objects.filter(lot=bar.lot, place__inside=True))
        piece = 4 * NM_PER_INCH
        rest = there - pieces * piece - (12 * NM_PER_INCH if own else 0) - (pieces + own + max(0, left - 1)) * KERF
        parts = [rest // left] * left if left else []
        if parts:
            parts[0] += rest - sum(parts) + off * NM_PER_INCH // 32
        lengths = [reading.BarLength(nm, f"{nm} nm") for nm in parts if nm > 0]

        def act() -> object:
            blanks = []
            if pieces:
                steel, section = bar.lot.item.grade, bar.section
                blank = steel_items.blank_item(steel, section, piece, at=self.at, by=makers.actor())
                blanks = [Blanks(blank, pieces)]
            job = SawJob(KERF, blanks, own_nm=12 * NM_PER_INCH if own else 0, left=lengths, scrap=left == 0)
            return sawing.cut(bar, job, stamp=self.stamp("a trial" if off % 2 else ""))

        self.do(act)

    @rule(index=number, pieces=st.integers(1, 40))
    def a_cut_plan(self, index: int, pieces: int) -> None:
        """Ask, and take the answer as soon as it is there; the worker's part is not in a transaction."""
        bar = self.bar(index)
        if bar is None or bar.lot.item.grade is None or bar.lot.item.grade.code == "UNKNOWN":
            return
        steel, section = bar.lot.item, bar.section

        def ask() -> object:
            length = (4 + index % 3) * NM_PER_INCH
            blank = steel_items.blank_item(steel.grade, section, length, at=self.at, by=makers.actor())
            wanted = [Wanted(blank, pieces)]
            return cut_plans.ask(Question(steel, wanted, KERF, seconds=1), at=self.stamp().at, by=makers.actor())

        plan = self.do(ask)
        if plan is not None:
            cut_answering.work({"plan": plan.pk}, self.at)
            self.do(lambda: cut_plans.take(plan.number, 0, version=None, at=self.stamp().at, by=makers.actor()))

    @precondition(lambda _: CutPlanBar.objects.filter(state="to saw").exists())
    @rule(index=number, how=st.sampled_from(("drawn", "spoiled", "left alone", "dropped")))
    def a_cut_plan_goes_on(self, index: int, how: str) -> None:
        waiting = CutPlanBar.objects.filter(state="to saw").select_related("plan", "bar")
        one = self.pick(waiting, index)
        plan, bar = one.plan.number, one.bar.number
        if how == "dropped":
            self.do(lambda: cut_plans.drop(plan, version=None, at=self.stamp().at, by=makers.actor()))
        elif how == "left alone":
            self.do(lambda: cut_plans.leave_alone(plan, bar, version=None, at=self.stamp().at))
        else:
            good = {one.pieces[0]: len(one.pieces) - 1} if how == "spoiled" else None
            done = AtTheSaw(bar, good=good, scrap=how == "spoiled")
            self.do(lambda: cut_plans.sawn(plan, [done], version=None, stamp=self.stamp("ran off")))

    @rule(index=number, length=st.sampled_from(LENGTHS))
    def a_length_is_corrected(self, index: int, length: str) -> None:
        bar = self.bar(index)
        if bar is not None:
            self.do(lambda: stocktaking.correct_length(bar, length, stamp=self.stamp("read wrongly")))

    @rule(index=number, heat=number)
    def a_mill_heat_is_corrected(self, index: int, heat: int) -> None:
        bar = self.bar(index)
        if bar is not None:
            text = f"H{heat % 4}"
            self.do(
                lambda: correcting.melt_of(
                    bar.lot, text, at=self.stamp().at, by=makers.actor(), reason="read from the certificate"
                )
            )

    @rule(index=number, back=st.booleans())
    def doubt(self, index: int, back: bool) -> None:
        lot = self.pick(Lot.objects.filter(holdings__on_hand__gt=0).distinct().select_related("item", "melt"), index)
        if lot is None:
            return
        shut = Holding.objects.filter(lot=lot, on_hand__gt=0, place__kind=Place.Kind.NOT_TO_BE_USED).exists()
        if shut and back:
            self.do(lambda: stocktaking.back_in_use(lot, stamp=self.stamp("the spark test matched")))
        elif shut:
            self.do(lambda: doubting.scrap(lot, stamp=self.stamp("soft")))
        else:
            self.do(lambda: doubting.out_of_use([lot], stamp=self.stamp("soft")))

    @rule(index=number)
    def a_whole_melt_in_doubt(self, index: int) -> None:
        bar = self.bar(index)
        if bar is not None and bar.lot.melt is not None and index % 3 == 0:
            melt = bar.lot.melt
            self.do(lambda: doubting.melt_out_of_use(melt, stamp=self.stamp("cracked tools")))

    @rule(index=number)
    def paint_is_lost(self, index: int) -> None:
        bar = self.bar(index)
        if bar is not None and index % 2:
            self.do(lambda: sawing.paint_lost(bar, stamp=self.stamp("ground off")))

    @rule(index=number, said=st.sampled_from(("accepted", "accepted with a note", "not to be used", "refused")))
    def an_answer(self, index: int, said: str) -> None:
        line = self.pick(DeliveryLine.objects.select_related("delivery", "item"), index)
        if line is not None and (index % 3 == 0 or said.startswith("accepted")):
            self.do(lambda: checking_in.answer(line, said, "bent", stamp=self.stamp()))

    @rule(index=number)
    def undo(self, index: int) -> None:
        newest = list(Entry.objects.order_by("-pk").values_list("pk", flat=True)[:12])
        if newest:
            self.do(lambda: reversing.reverse(newest[index % len(newest)], stamp=self.stamp("a mistake")))

    @invariant()
    def the_steel_holds(self) -> None:
        assert differences() == []
        assert not Holding.objects.filter(place__kind=Place.Kind.RACK, on_hand__gt=0, lot__bar__measured=False).exists()
        nothing = Movement.objects.filter(from_place__inside=False).values("lot").annotate(came=Sum("qty"))
        gone = dict(Movement.objects.filter(to_place__inside=False).values_list("lot").annotate(went=Sum("qty")))
        left = dict(Holding.objects.filter(place__inside=True).values_list("lot").annotate(there=Sum("on_hand")))
        for row in nothing:
            lot = row["lot"]
            assert row["came"] == gone.get(lot, 0) + left.get(lot, 0)
        balances = [balance.of_melt(melt) for melt in Melt.objects.all()]
        for sheet in (balance.whole(stages) for stages in balances):
            assert sheet is None or sheet.received_mg == sum(row.mass_mg or 0 for row in sheet.rows), sheet
        for stage in (one for stages in balances for one in stages):
            assert stage.came_qty == sum(row.qty for row in stage.parts), stage
            if stage.came_mg is not None:
                assert stage.came_mg == sum(row.mass_mg or 0 for row in stage.parts), stage
        mixed = LotParent.objects.exclude(child__entry__kind=Entry.Kind.PAINT_LOST)
        assert all(child == parent for child, parent in mixed.values_list("child__melt", "parent__melt"))


def test_the_steel_holds_whatever_is_done_in_whatever_order() -> None:
    size = (
        {"max_examples": 300, "stateful_step_count": 60}
        if LONG
        else {"max_examples": 6, "stateful_step_count": 25, "phases": PHASES}
    )
    run_state_machine_as_test(TheRack, settings=settings(**size))

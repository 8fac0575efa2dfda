"""Whatever is done in whatever order, the book holds: a machine that does everything at random over all services."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from django.db.models import Exists, F, Sum
from hypothesis import settings
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from inventory.models import AllocationPart, Entry, Holding, Item, ItemStock, Place, TakeOut
from orders.models import Customer, Hold, Order, OrderLine, Release, Return, Shipment, ShipmentLine
from orders.queries import availability, short
from orders.services import holding, ordering, releases, reserving, returning, shipping
from orders.services.ordering import Terms, Wanted
from orders.services.shipping import Parcel
from shop.flows import doubting, making_up, releasing, reversing, sharing, stocktaking, taking_out
from shop.flows import ordering as counter
from shop.flows.checking import check_book
from shop.shared import once, transactions
from shop.shared.errors import Refusal
from shop.shared.models import AuditLine
from shop.shared.once import Answer
from tests import makers
from tests import strategies as draw
from tests.conftest import LONG
from tests.recomputed import differences

BY = makers.actor()


@dataclass(frozen=True)
class World:
    """What stands before the first order: two tools that share a handle, so that what one takes the other lacks."""

    tools: list[Item]
    items: list[Item]
    customer: Customer

    @classmethod
    def make(cls) -> "World":
        first = makers.make_tool(wedges=2)
        second = makers.make_item(Item.Kind.TOOL)
        head = makers.make_item(Item.Kind.HEAD)
        with transaction.atomic():
            makers.catalogue.set_recipe(second, {head: 1, first.handle: 1}, at=makers.AT, by=BY)
        items = [first.item, second, first.handle, first.head, first.wedge, head]
        for item, qty in zip(items, (2, 1, 6, 5, 9, 4), strict=True):
            makers.put_in(item, qty)
        return cls([first.item, second], items, makers.make_customer())


class TheShop(RuleBasedStateMachine):
    """One try: it begins with the world as it was made and is taken back afterwards. Every answer must be true."""

    world: World

    def __init__(self) -> None:
        super().__init__()
        self.at = makers.AT
        self.steps = 0
        self.block = transaction.atomic()
        self.block._from_testcase = True  # type: ignore[attr-defined] # the durable blocks of entry points nest in it
        self.block.__enter__()
        self.seen: dict[tuple[int, str], tuple[Any, ...]] = {}
        self.rows: list[Any] = _everything()

    def teardown(self) -> None:
        try:
            assert check_book() == []
        finally:
            transaction.set_rollback(True)
            self.block.__exit__(None, None, None)

    @initialize(orders=draw.orders, holds=draw.lines, sent=draw.yes)
    def the_morning(self, orders: list[list[tuple[int, int]]], holds: list[tuple[int, int]], sent: bool) -> None:
        for lines in orders:
            order = makers.make_order([Wanted(qty=qty, item=self.item(number)) for number, qty in lines])
            if sent and order.lines.filter(reserved__gt=0).exists():
                makers.send(order)
        for number, qty in holds:
            self.rows = _everything()
            self.pieces_are_put_by(number, qty, 1)

    def look_around(self) -> None:
        """Note what there is, so that only what can be done is tried, and every row, for the next refusal."""
        what = {
            "hold": Hold.objects.filter(ended_at=None),
            "release": Release.objects.filter(ended_at=None),
            "order": Order.objects.all(),
            "open": Order.objects.filter(closed_at=None),
            "reserved": OrderLine.objects.filter(reserved__gt=0),
            "sent": ShipmentLine.objects.all(),
            "back": Return.objects.filter(reversed_at=None, inspected__lt=F("qty")),
            "out": TakeOut.objects.filter(back__lt=F("qty")),
            "not used": Holding.objects.filter(on_hand__gt=0, place__code="NOT-USED"),
        }
        is_there = Place.objects.filter(code="SHELF").values_list(*[Exists(rows) for rows in what.values()])
        self.there = dict(zip(what, is_there.get(), strict=True))
        self.rows = _everything()

    # ---- what is there

    def item(self, number: int) -> Item:
        return self.world.items[number % len(self.world.items)]

    def pick(self, rows: Any, number: int) -> Any:
        found = list(rows.order_by("pk"))
        return found[number % len(found)] if found else None

    def open_lines(self) -> Any:
        return OrderLine.objects.filter(order__closed_at=None)

    def can_promise(self, item: Item) -> int:
        return availability.one(item, at=self.at).can_promise

    # ---- doing something, and what a refusal must leave alone

    def do(self, action: Callable[[], Any], *, may_refuse: bool = True) -> Any:
        refusal = None
        try:
            with transactions.entry_point():
                return action()
        except Refusal as refused:
            refusal = refused
        assert may_refuse, f"refused although there was enough: {refusal}"
        assert refusal.sentence.endswith(".")
        assert _everything() == self.rows, f"a refused action changed something: {refusal}"
        return None

    @invariant()
    def the_book_holds(self) -> None:
        assert differences(tidied_at=self.at) == []
        self.availability_is_honest()
        self.look_around()

    def availability_is_honest(self) -> None:
        """The same tag never stands for two figures, and one item alone says what the whole list says."""
        every = availability.of(None, at=self.at)
        for row in every:
            figures = (row.there, row.spoken_for, row.waiting, row.parts, row.can_promise, row.as_of)
            assert self.seen.setdefault((row.item.pk, row.etag), figures) == figures
            assert min(figures[:5]) >= 0
        self.steps += 1
        assert availability.one(self.item(self.steps), at=self.at) in every

    # ---- the day

    @rule(number=draw.which, qty=draw.some)
    def something_arrives(self, number: int, qty: int) -> None:
        makers.put_in(self.item(number), qty, at=self.at)

    @rule(seconds=draw.seconds)
    def time_passes(self, seconds: int) -> None:
        self.at += dt.timedelta(seconds=seconds)

    @rule(lines=draw.lines, whole=draw.yes, paid=draw.yes)
    def an_order_is_taken(self, lines: list[tuple[int, int]], whole: bool, paid: bool) -> None:
        wanted = [Wanted(qty=qty, item=self.item(number), whole=whole) for number, qty in lines]
        terms = Terms(send_when_paid=paid)
        self.do(lambda: ordering.take(self.world.customer, wanted, terms, at=self.at, by=BY), may_refuse=False)

    @rule(lines=draw.lines)
    def an_order_is_taken_whole_or_not_at_all(self, lines: list[tuple[int, int]]) -> None:
        wanted = [Wanted(qty=qty, item=self.item(number)) for number, qty in lines]
        order = self.do(lambda: ordering.take(self.world.customer, wanted, Terms(), at=self.at, by=BY, wait=False))
        if order:
            assert all(line.reserved == line.ordered for line in order.lines.all())

    @rule(number=draw.which, words=draw.yes)
    def what_is_promised_can_be_ordered(self, number: int, words: bool) -> None:
        item = self.item(number)
        qty = self.can_promise(item)
        if not qty:
            return
        if words:
            self.do(lambda: holding.put_by(item, qty, minutes=1, at=self.at, made_by="t"), may_refuse=False)
        else:
            wanted = [Wanted(qty=qty, item=item)]
            self.do(
                lambda: ordering.take(self.world.customer, wanted, Terms(), at=self.at, by=BY, wait=False),
                may_refuse=False,
            )

    @rule(number=draw.which, qty=draw.few, minutes=draw.minutes)
    def pieces_are_put_by(self, number: int, qty: int, minutes: int) -> None:
        item = self.item(number)
        enough = qty <= self.can_promise(item)
        self.do(lambda: holding.put_by(item, qty, minutes=minutes, at=self.at, made_by="tests"), may_refuse=not enough)

    @rule(number=draw.which, qty=draw.few)
    def somebody_calls(self, number: int, qty: int) -> None:
        until = self.at + dt.timedelta(days=1)
        self.do(
            lambda: holding.say_on_the_phone(
                self.item(number), qty, name="Invented", until=until, at=self.at, made_by="tests"
            )
        )

    @precondition(lambda self: self.there["hold"])
    @rule(number=draw.which, ended=draw.yes)
    def a_hold_is_let_go(self, number: int, ended: bool) -> None:
        hold = self.pick(Hold.objects.all() if ended else Hold.objects.filter(ended_at=None), number)
        if hold:
            self.do(lambda: holding.let_go(hold, at=self.at, by=BY))

    @precondition(lambda self: self.there["hold"])
    @rule(number=draw.which)
    def a_hold_becomes_an_order(self, number: int) -> None:
        hold = self.pick(Hold.objects.filter(ended_at=None), number)
        if hold:
            in_time = hold.until > self.at
            order = self.do(
                lambda: counter.order_from_hold(hold, self.world.customer, Terms(), at=self.at, by=BY),
                may_refuse=not in_time,
            )
            assert (order is not None) == in_time

    @rule(number=draw.which, qty=draw.few)
    def a_release_is_begun(self, number: int, qty: int) -> None:
        item, at = self.item(number), self.at
        self.do(
            lambda: releases.begin("Friday", item, qty, opens_at=at, closes_at=None, at=at, by=BY), may_refuse=False
        )

    @precondition(lambda self: self.there["release"])
    @rule(number=draw.which, qty=draw.few)
    def an_order_is_taken_out_of_a_release(self, number: int, qty: int) -> None:
        release = self.pick(Release.objects.filter(ended_at=None), number)
        if release:
            buyer = self.world.customer
            order = self.do(lambda: releasing.take(release, buyer, qty, at=self.at, by=BY))
            assert order is None or order.lines.get().reserved == qty

    @precondition(lambda self: self.there["release"])
    @rule(number=draw.which)
    def a_release_is_ended(self, number: int) -> None:
        release = self.pick(Release.objects.filter(ended_at=None), number)
        if release:
            self.do(lambda: releases.end(release, at=self.at, by=BY), may_refuse=False)
            assert not release.order.lines.filter(reserved__gt=0).exists()

    @precondition(lambda self: self.there["reserved"])
    @rule(number=draw.which, proportional=draw.yes)
    def what_is_too_little_is_shared(self, number: int, proportional: bool) -> None:
        item, kind = self.item(number), sharing.PROPORTIONAL if proportional else sharing.BY_DATE
        found = short.of(item)
        looked_at = sharing.seen(found, sharing.shares(found, kind))
        done = self.do(lambda: sharing.share(item, kind, None, looked_at=looked_at, at=self.at, by=BY))
        if done:
            assert sum(qty for _, qty in done.lost) <= sum(qty for _, qty in done.got)

    @precondition(lambda self: self.there["open"])
    @rule(number=draw.which, qty=draw.few)
    def some_of_a_line_is_cancelled(self, number: int, qty: int) -> None:
        line = self.pick(OrderLine.objects.all(), number)
        if line:
            self.do(lambda: ordering.cancel(line, qty, at=self.at, by=BY))

    @precondition(lambda self: self.there["open"])
    @rule(number=draw.which)
    def an_order_is_cancelled(self, number: int) -> None:
        order = self.pick(Order.objects.filter(closed_at=None), number)
        if order:
            self.do(lambda: ordering.cancel_order(order, at=self.at, by=BY), may_refuse=False)

    @precondition(lambda self: self.there["open"])
    @rule(number=draw.which, qty=draw.few)
    def another_quantity_is_agreed(self, number: int, qty: int) -> None:
        line = self.pick(OrderLine.objects.all(), number)
        if line:
            self.do(lambda: ordering.change_quantity(line, qty, at=self.at, by=BY))

    @precondition(lambda self: self.there["order"])
    @rule(number=draw.which, other=draw.which, qty=draw.few)
    def a_line_is_added(self, number: int, other: int, qty: int) -> None:
        order = self.pick(Order.objects.all(), number)
        if order:
            self.do(lambda: ordering.add_line(order, Wanted(qty=qty, item=self.item(other)), at=self.at, by=BY))

    @precondition(lambda self: self.there["reserved"])
    @rule(number=draw.which, qty=draw.few)
    def pieces_are_released(self, number: int, qty: int) -> None:
        line = self.pick(self.open_lines().filter(reserved__gt=0), number)
        if line:
            self.do(lambda: ordering.release(line, min(qty, line.reserved), at=self.at, by=BY), may_refuse=False)

    @precondition(lambda self: self.there["open"])
    @rule(number=draw.which, qty=draw.few, all_there_is=draw.yes)
    def pieces_are_set_aside(self, number: int, qty: int, all_there_is: bool) -> None:
        line = self.pick(self.open_lines(), number)
        if line:
            self.do(lambda: ordering.reserve(line, None if all_there_is else qty, at=self.at, by=BY))

    @precondition(lambda self: self.there["order"])
    @rule(number=draw.which, amount=draw.few)
    def money_comes(self, number: int, amount: int) -> None:
        order = self.pick(Order.objects.all(), number)
        if order:
            self.do(lambda: ordering.receive_money(order, amount * 4_500 - 9_000, how="cash", at=self.at, by=BY))

    @precondition(lambda self: self.there["reserved"])
    @rule(number=draw.which, part=draw.few)
    def some_of_an_order_is_sent(self, number: int, part: int) -> None:
        order = self.pick(Order.objects.filter(closed_at=None, lines__reserved__gt=0).distinct(), number)
        if order:
            lines = {line.number: min(part, line.reserved) for line in order.lines.all() if line.reserved}
            self.do(lambda: shipping.send(order, lines, Parcel(), stamp=makers.stamp(at=self.at)))

    @rule()
    def the_minute_is_swept(self) -> None:
        self.do(lambda: reserving.sweep(at=self.at), may_refuse=False)
        lapsed = AllocationPart.objects.filter(open=True, allocation__expires_at__lte=self.at)
        assert not lapsed.exists()

    @rule(number=draw.which, qty=draw.few)
    def pieces_are_lost(self, number: int, qty: int) -> None:
        standing = self.pick(Holding.objects.filter(on_hand__gt=0, place__sellable=True), number)
        if standing:
            lost = min(qty, standing.on_hand)
            self.do(
                lambda: stocktaking.write_off(
                    standing.lot, lost, place=standing.place, cause="dropped", stamp=makers.stamp(at=self.at)
                ),
                may_refuse=False,
            )

    @rule(number=draw.which, qty=draw.few)
    def tools_are_made_up(self, number: int, qty: int) -> None:
        tool = self.world.tools[number % 2]
        self.do(lambda: making_up.make_up(tool, qty, stamp=makers.stamp(at=self.at)))

    @rule(number=draw.which)
    def an_entry_is_undone(self, number: int) -> None:
        entries = list(Entry.objects.order_by("-pk"))
        entry = entries[number % len(entries)]
        self.do(lambda: reversing.reverse(entry.pk, stamp=makers.stamp(at=self.at)))

    @rule(number=draw.which, found=draw.some)
    def a_shelf_is_counted(self, number: int, found: int) -> None:
        standing = self.pick(Holding.objects.filter(place__sellable=True), number)
        if standing:
            self.do(
                lambda: stocktaking.count(standing.item, standing.place, found - 1, stamp=makers.stamp(at=self.at)),
                may_refuse=False,
            )

    @rule(number=draw.which)
    def a_lot_may_not_be_used(self, number: int) -> None:
        standing = self.pick(Holding.objects.filter(on_hand__gt=0, place__sellable=True), number)
        if standing:
            stamp = makers.stamp(at=self.at, reason="a crack")
            self.do(lambda: doubting.out_of_use([standing.lot], stamp=stamp), may_refuse=False)

    @precondition(lambda self: self.there["not used"])
    @rule(number=draw.which)
    def a_lot_is_put_back_in_use(self, number: int) -> None:
        standing = self.pick(Holding.objects.filter(on_hand__gt=0, place__code="NOT-USED"), number)
        if standing:
            self.do(
                lambda: stocktaking.back_in_use(standing.lot, stamp=makers.stamp(at=self.at, reason="checked again"))
            )

    @rule(number=draw.which, qty=draw.few)
    def pieces_go_to_a_show(self, number: int, qty: int) -> None:
        self.do(
            lambda: taking_out.take_out(
                self.item(number), qty, "show", stamp=makers.stamp(at=self.at), due_back=self.at.date()
            )
        )

    @precondition(lambda self: self.there["out"])
    @rule(number=draw.which, qty=draw.few)
    def pieces_come_back_from_a_show(self, number: int, qty: int) -> None:
        taken = self.pick(TakeOut.objects.all(), number)
        if taken:
            self.do(lambda: taking_out.take_back(taken, qty, stamp=makers.stamp(at=self.at)))

    @precondition(lambda self: self.there["sent"])
    @rule(number=draw.which, qty=draw.few)
    def a_customer_sends_back(self, number: int, qty: int) -> None:
        sent = self.pick(ShipmentLine.objects.select_related("shipment", "line"), number)
        if sent:
            self.do(
                lambda: returning.come_back(
                    sent.shipment, sent.line.number, qty, why="a loose head", stamp=makers.stamp(at=self.at)
                )
            )

    @precondition(lambda self: self.there["back"])
    @rule(number=draw.which, qty=draw.few, outcome=draw.outcomes)
    def a_return_is_inspected(self, number: int, qty: int, outcome: str) -> None:
        returned = self.pick(Return.objects.filter(reversed_at=None, inspected__lt=F("qty")), number)
        if returned:
            qty = min(qty, returned.qty - returned.inspected)
            lots = returned.entry.movements.values("lot_id")
            there = Holding.objects.filter(place__code="INSPECT", lot_id__in=lots).aggregate(n=Sum("on_hand"))["n"] or 0
            stamp = makers.stamp(at=self.at)
            self.do(lambda: returning.decide(returned, outcome, qty, stamp=stamp), may_refuse=there < qty)

    @rule(number=draw.which, qty=draw.few)
    def a_request_is_sent_twice(self, number: int, qty: int) -> None:
        """A request repeated with its key has one effect and the same answer, a refused one too."""
        item, key = self.item(number), f"repeated-request-{makers.next_number()}"

        def put_by() -> Answer:
            hold = holding.put_by(item, qty, minutes=15, at=self.at, made_by="tests")
            return Answer(201, f"hold {hold.pk}")

        def ask() -> Answer:
            return once.run(
                client="tests", method="POST", path="/holds", key=key, fingerprint=f"{item.pk} {qty}", at=self.at,
                action=put_by, refused=lambda refusal: Answer(refusal.status, refusal.sentence),
            )  # fmt: skip

        first = self.do(ask, may_refuse=False)
        after = _everything()
        again = self.do(ask, may_refuse=False)
        assert (again.status, again.body) == (first.status, first.body)
        assert _everything() == after

    @rule(number=draw.which)
    def the_shop_reads(self, number: int) -> None:
        """Reading changes nothing, not even after holds have lapsed."""
        availability.one(self.item(number), at=self.at)
        availability.of(None, at=self.at)
        assert _everything() == self.rows


def _everything() -> list[Any]:
    """Return every row that an action on stock or orders may write."""
    return [
        list(ItemStock.objects.order_by("pk").values_list()),
        list(Holding.objects.order_by("pk").values_list()),
        list(AllocationPart.objects.order_by("pk").values_list()),
        list(OrderLine.objects.order_by("pk").values_list()),
        list(Order.objects.order_by("pk").values_list()),
        list(Hold.objects.order_by("pk").values_list()),
        list(Release.objects.order_by("pk").values_list()),
        Customer.objects.count(),
        list(Entry.objects.order_by("pk").values_list("pk", flat=True)),
        list(Shipment.objects.order_by("pk").values_list()),
        AuditLine.objects.count(),
    ]


@pytest.mark.django_db
def test_the_book_holds_whatever_is_done_in_whatever_order() -> None:
    size = {"max_examples": 400, "stateful_step_count": 60} if LONG else {"max_examples": 5, "stateful_step_count": 25}
    TheShop.world = World.make()
    run_state_machine_as_test(TheShop, settings=settings(**size))

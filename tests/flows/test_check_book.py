"""Whatever row somebody alters behind the services' backs, the command that checks the book names that very row."""

import datetime as dt
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection, transaction
from django.db.models import F, Model
from django.db.utils import DatabaseError

from inventory.models import (
    Allocation,
    AllocationPart,
    Bar,
    BookClose,
    CountReject,
    Cut,
    CutPiece,
    CutPlan,
    CutPlanBar,
    Delivery,
    DeliveryLine,
    Entry,
    HandleSort,
    Holding,
    Item,
    ItemStock,
    LoadLot,
    Lot,
    LotParent,
    Melt,
    Movement,
    OvenLoad,
    Pattern,
    Place,
    PurchaseOrder,
    PurchaseOrderLine,
    RecipePart,
    Route,
    Run,
    RunCount,
    Step,
    Supplier,
    TakeOut,
)
from inventory.queries import seals
from orders.models import (
    Hold,
    Money,
    Order,
    OrderLine,
    Promise,
    PromiseBasis,
    Release,
    Return,
    ReturnOutcome,
    Shipment,
    ShipmentLine,
    ShippedLot,
)
from shop.flows.checking import check_book
from shop.shared import append_only
from shop.shared.models import AuditLine
from tests import makers
from tests.flows import busy_book
from tests.flows.busy_book import LATER, Days

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]

DAY = dt.timedelta(days=1)
Changes = Mapping[str, Any] | Callable[[Any], Mapping[str, Any]]


@pytest.fixture(scope="module")
def days(django_db_setup: None, django_db_blocker: Any) -> Iterator[Days]:
    """The busy days, booked once for all tests here and never committed; each test rolls its alteration back."""
    with django_db_blocker.unblock(), transaction.atomic():
        # As the blocks of Django's own test cases: durable blocks may nest in it.
        connection.atomic_blocks[-1]._from_testcase = True
        yield busy_book.build()
        transaction.set_rollback(True)


def other(row: Model, **where: Any) -> int:
    """Return the id of another row of the same table, or of the one that is asked for."""
    return int(
        type(row)._default_manager.filter(**where).exclude(pk=row.pk).order_by("pk").values_list("pk", flat=True)[0]
    )


@dataclass(frozen=True)
class Altered:
    """One row altered by hand: which, how, and how the check must name it."""

    model: type[Model]
    what: str
    to: Changes | None  # None takes the row away
    names: str | Callable[[Any], str]  # the beginning of the sentence, or a part of it
    where: Mapping[str, Any] = field(default_factory=dict)
    sealed: bool = False  # by somebody who knows how the seal is made

    def __str__(self) -> str:
        return f"{self.model.__name__}-{self.what}".replace(" ", "_")

    def do(self) -> str:
        """Alter the row and return what the check must say."""
        row = self.model._default_manager.filter(**self.where).order_by("pk")[0]
        name = self.names(row) if callable(self.names) else self.names.format(row=row)
        rows = self.model._default_manager.filter(pk=row.pk)
        if self.to is None:
            rows._raw_delete(rows.db)  # type: ignore[attr-defined]
            return name
        assert rows.update(**(self.to(row) if callable(self.to) else self.to)) == 1
        if self.sealed:
            row.refresh_from_db()
            seal = seals.entry_seal(row) if isinstance(row, Entry) else seals.movement_seal(row)  # type: ignore[arg-type]
            rows.update(seal=seal)
        return name


def line_name(line: OrderLine) -> str:
    return f"Order {line.order.number} line {line.number} "


def stock_name(row: ItemStock) -> str:
    return f"Item stock of {row.item.code} says "


def of_lot(row: Any) -> str:
    return f"lot {row.lot.code}"


def cut_name(row: Any) -> str:
    return f"Cut {row.pk} of bar {row.bar.number} says "


STOCK = [
    Altered(Cut, "own", {"own_nm": F("own_nm") + 1, "pieces_nm": F("pieces_nm") - 1}, cut_name),
    Altered(Cut, "kerf", {"kerfs_nm": F("kerfs_nm") + 1, "difference_nm": F("difference_nm") - 1}, cut_name),
    Altered(Cut, "remnant", {"remnant_nm": F("remnant_nm") - 1, "pieces_nm": F("pieces_nm") + 1}, cut_name),
    Altered(Cut, "pieces", {"pieces": F("pieces") + 1}, cut_name),
    Altered(CutPiece, "count", {"count": F("count") + 1}, "Cut piece {row.pk} of bar {row.cut.bar.number} says "),
    Altered(CutPiece, "length", {"piece_nm": F("piece_nm") + 1}, "its cut pieces ({row.pk})"),
    Altered(Cut, "whole", {"taken_nm": F("taken_nm") + 1, "trim_nm": F("trim_nm") + 1}, cut_name),
    Altered(
        CutPlanBar,
        "bar",
        lambda row: {"bar": Bar.objects.exclude(cut_plan_bars__plan=row.plan)[0]},
        "Cut plan {row.plan.number} is to saw bar",
        {"state": "to saw"},
    ),
    Altered(
        CutPlanBar,
        "bar that was sawn",
        lambda row: {"bar": Bar.objects.exclude(cut_plan_bars__plan=row.plan)[0]},
        "Cut plan {row.plan.number} has bar",
        {"state": "sawn"},
    ),
    Altered(CutPlan, "state", {"state": "answered"}, "Cut plan {row.number} is answered", {"state": "taken"}),
    Altered(Place, "not sold from", {"sellable": False}, "Place RACK is a rack", {"code": "RACK"}),
    Altered(ItemStock, "sellable", {"sellable": F("sellable") + 1}, stock_name),
    Altered(
        ItemStock, "set aside", {"allocated": F("allocated") - 1}, stock_name, {"allocated__gt": 0}
    ),
    Altered(ItemStock, "waiting", {"waiting": F("waiting") + 1}, stock_name),
    Altered(ItemStock, "taken away", None, lambda row: f"Item {row.item.code} has no stock row", {"allocated": 0}),
    Altered(Holding, "on hand", {"on_hand": F("on_hand") + 1}, "Holding {row.pk} "),
    Altered(Holding, "set aside", {"allocated": F("allocated") - 1}, "Holding {row.pk} ", {"allocated__gt": 0}),
    Altered(Holding, "item", lambda row: {"item": other(row.item)}, "Holding {row.pk} "),
    Altered(Holding, "step", {"step": 7}, "Holding {row.pk} ", {"allocated__gt": 0}),
    Altered(
        Holding,
        "place",
        lambda _: {"place": Place.objects.get(code="INSPECT")},
        "Holding {row.pk} ",
        {"allocated__gt": 0},
    ),
    Altered(
        Holding, "place outside", lambda _: {"place": Place.objects.get(code="SCRAP")}, "Holding {row.pk} ",
        {"on_hand__gt": 0},
    ),
    Altered(
        Holding,
        "taken away",
        None,
        lambda row: f"Lot {row.lot.code} at {row.place.code}: movements come to {row.on_hand} and no holding",
        {"on_hand__gt": 0, "allocated": 0, "lot__born_at__gte": LATER},
    ),
    Altered(Allocation, "closed", {"closed_at": LATER}, lambda row: f"allocation {row.pk}", {"closed_at": None}),
    Altered(Allocation, "open again", {"closed_at": None}, "Allocation {row.pk} is open", {"closed_at__isnull": False}),
    Altered(
        Allocation,
        "lapsing by itself",
        {"expires_at": LATER + DAY},
        "Allocation {row.pk} lapses by itself",
        {"order_line__isnull": False},
    ),
    Altered(
        Allocation,
        "lapsing later",
        {"expires_at": LATER + 9 * DAY},
        "allocation {row.pk}.",
        {"hold__ended_at": None, "hold__isnull": False},
    ),
    Altered(AllocationPart, "quantity", {"qty": F("qty") + 1}, "allocation parts ({row.pk}", {"open": True}),
    Altered(
        AllocationPart, "let go", {"open": False}, lambda row: f"Holding {row.holding_id} (", {"open": True}
    ),
    Altered(AllocationPart, "item", lambda row: {"item": other(row.item)}, "Allocation part {row.pk} ", {"open": True}),
    Altered(
        AllocationPart,
        "holding",
        lambda row: {"holding": other(row.holding, allocated=0)},
        "allocation parts ({row.pk})",
        {"open": True},
    ),
    Altered(
        AllocationPart,
        "open in a closed one",
        {"open": True},
        "Allocation part {row.pk} is open in the closed allocation",
        {"open": False, "allocation__closed_at__isnull": False},
    ),
    Altered(AllocationPart, "taken away", None, lambda row: f"Holding {row.holding_id} (", {"open": True}),
    Altered(
        BookClose, "quantity", {"qty": F("qty") + 1}, "Book close {row.pk} of 2026-03 says"
    ),
    Altered(
        BookClose, "end", {"last_movement": F("last_movement") - 1}, "Book close {row.pk} of 2026-03 ends"
    ),
    Altered(BookClose, "taken away", None, lambda row: f"The close of 2026-03 leaves out {row.qty}: Lot {row.holding.lot}"),
]  # fmt: skip

A_MOVEMENT = "Movement {row.pk} (entry "
AN_ENTRY = "Entry {row.pk} was altered"
BOOK = [
    Altered(Movement, "quantity", {"qty": F("qty") + 1}, A_MOVEMENT),
    Altered(Movement, "mass", {"mass_mg": 1}, A_MOVEMENT),
    Altered(Movement, "basis", {"basis": "measured"}, A_MOVEMENT, {"basis": ""}),
    Altered(Movement, "place", lambda _: {"to_place": Place.objects.get(code="OVEN")}, A_MOVEMENT),
    Altered(Movement, "step", {"to_step": 3}, A_MOVEMENT),
    Altered(Movement, "line", {"line": 77}, A_MOVEMENT),
    Altered(Movement, "item", lambda row: {"item": other(row.item)}, "Movement {row.pk} names another item"),
    Altered(Movement, "entry", lambda row: {"entry": other(row.entry), "line": 70}, A_MOVEMENT),
    Altered(Movement, "taken away", None, "Entry {row.entry_id} was booked with {row.entry.lines} lines and has "),
    Altered(
        Movement,
        "quantity under a new seal",
        {"qty": F("qty") + 1},
        lambda row: f"(lot {row.lot.code} at {row.to_place.code}) says",
        {"to_place__inside": True},
        sealed=True,
    ),
    Altered(
        Movement,
        "reversal under a new seal",
        {"qty": F("qty") + 1},
        "Entry {row.entry_id} undoes entry {row.entry.reverses_id} and is not its mirror image",
        {"entry__kind": "reversal"},
        sealed=True,
    ),
    Altered(Entry, "reason", {"reason": "nothing happened"}, AN_ENTRY),
    Altered(Entry, "kind", {"kind": "count"}, AN_ENTRY, {"reverses": None}),
    Altered(Entry, "happened", lambda row: {"happened_at": row.happened_at - dt.timedelta(microseconds=1)}, AN_ENTRY),
    Altered(Entry, "booked", lambda row: {"booked_at": row.booked_at + dt.timedelta(microseconds=1)}, AN_ENTRY),
    Altered(Entry, "device", {"device": "the other tablet"}, AN_ENTRY),
    Altered(Entry, "person", lambda _: {"by": makers.make_person()}, AN_ENTRY),
    Altered(Entry, "lines", {"lines": F("lines") + 1}, "Entry {row.pk} was booked with", sealed=True),
    Altered(
        Entry,
        "what it undoes",
        lambda row: {"reverses": other(row, reversed_by=None, reverses=None)},
        "Entry {row.pk} undoes entry",
        {"kind": "reversal"},
        sealed=True,
    ),
]

A_LINE = "Delivery line {row.pk} (delivery {row.delivery.number}, line {row.number})"
A_PURCHASE = "Purchase order {row.order.number} line {row.number} says"
STEEL = {"item__kind": "bar"}
LOTS = [
    Altered(Lot, "melt", lambda row: {"melt": other(row.melt)}, "Lot {row.code} is of melt ", {"item__kind": "tool", "melt__isnull": False}),
    Altered(Lot, "no melt", {"melt": None}, "Lot {row.code} is steel and names no melt", STEEL),
    Altered(Lot, "melt of a tool forgotten", {"melt": None}, "Lot {row.code} is of melt none", {"item__kind": "tool", "melt__isnull": False}),
    Altered(Lot, "origin", lambda row: {"entry": other(row.entry)}, "Lot {row.code} came from nowhere"),
    Altered(Lot, "item", lambda row: {"item": other(row.item)}, "than its lot {row.code}"),
    Altered(Lot, "no delivery line", {"delivery_line": None}, "Lot {row.code} came by a delivery", {"delivery_line__isnull": False}),
    Altered(Lot, "delivery line", lambda row: {"delivery_line": other(row.delivery_line)}, "Lot {row.code} names delivery line", STEEL),
    Altered(LotParent, "quantity", {"quantity": F("quantity") + 1}, "lot parents ({row.pk}"),
    Altered(LotParent, "parent", lambda _: {"parent": Lot.objects.filter(item__kind="bar")[0]}, "lot parents ({row.pk})"),
    Altered(LotParent, "taken away", None, "Entry {row.child.entry_id} worked up"),
    Altered(Melt, "grade", lambda _: {"grade": makers.make_grade("4140")}, "melt {row.pk}, whose grade", {"lots__item__kind": "bar"}),
    Altered(Bar, "length", {"length_nm": F("length_nm") + 1}, "Bar {row.number} says it is"),
    Altered(Bar, "shorter than what is there", {"length_nm": 1}, "Bar {row.number} is 1 nm long"),
    Altered(Bar, "section", lambda _: {"section": makers.make_section(size_nm=25_400_000, typed="1 in")}, "Bar {row.number} has another section"),
    Altered(Bar, "parent", lambda row: {"parent": other(row)}, "Bar {row.number} is said to be cut from"),
    Altered(Bar, "share of the weight", {"mass_mg": F("mass_mg") + 1}, lambda row: f"mg; bars {row.number},", {"mass_mg__isnull": False}),
    Altered(Bar, "taken away", None, "Lot {row.lot.code} is a bar and has no bar row"),
    Altered(PurchaseOrder, "number", {"number": 99}, "Purchase order {row.pk} by its row bears number 99"),
    Altered(PurchaseOrder, "supplier", lambda _: {"supplier": Supplier.objects.create(name="Invented Other")}, "is of another supplier than its purchase order", {"deliveries__isnull": False}),
    Altered(PurchaseOrderLine, "received", {"received": F("received") + 1}, A_PURCHASE),
    Altered(PurchaseOrderLine, "bars received", {"received_bars": F("received_bars") + 1}, A_PURCHASE),
    Altered(PurchaseOrderLine, "taken away", None, "Purchase order {row.order.number} has no line", {"deliveries": None}),
    Altered(Delivery, "number", {"number": 99}, "Delivery {row.pk} by its row bears number 99"),
    Altered(Delivery, "undone", {"state": "reversed"}, "Delivery {row.number} is reversed", {"state": "booked"}),
    Altered(Delivery, "not undone", {"state": "booked"}, "Delivery {row.number} is booked", {"state": "reversed"}),
    Altered(Delivery, "supplier", lambda _: {"supplier": Supplier.objects.create(name="Invented Other")}, "Delivery {row.number} is of another supplier", {"order__isnull": False}),
    Altered(Delivery, "time", lambda row: {"happened_at": row.happened_at + DAY}, "Delivery {row.number} happened at another time", {"state": "booked"}),
    Altered(Delivery, "entry", lambda _: {"entry": Entry.objects.filter(kind="moved in")[0]}, "Delivery {row.number} names an entry that is no delivery", {"state": "booked"}),
    Altered(DeliveryLine, "quantity", {"qty": F("qty") + 1}, A_LINE),
    Altered(DeliveryLine, "bars", {"bars": F("bars") + 1}, A_LINE + " says", {"bars__isnull": False}),
    Altered(DeliveryLine, "item", lambda row: {"item": other(row.item)}, A_LINE + " names a line", {"order_line__isnull": False}),
    Altered(DeliveryLine, "order line", lambda _: {"order_line": PurchaseOrderLine.objects.get(order__number=2)}, A_LINE + " names a line", {"order_line__isnull": False}),
    Altered(DeliveryLine, "weight", {"scale_mass_mg": 5}, A_LINE + " weighed 5 mg", {"scale_mass_mg__isnull": False}),
    Altered(DeliveryLine, "moved to a draft", lambda _: {"delivery": Delivery.objects.get(state="draft"), "number": 9}, "Delivery line {row.pk} "),
    Altered(TakeOut, "quantity", {"qty": F("qty") + 1}, "Take-out {row.pk} says"),
    Altered(TakeOut, "back", {"back": F("back") + 1}, "Take-out {row.pk} says", {"why": "show"}),
    Altered(TakeOut, "item", lambda row: {"item": other(row.item)}, "Take-out {row.pk} is of another item"),
    Altered(TakeOut, "entry", lambda _: {"entry": Entry.objects.filter(kind="moved in")[0]}, "Take-out {row.pk} names an entry that is no take-out"),
    Altered(TakeOut, "taken away", None, "Entry {row.entry_id} took something out"),
]  # fmt: skip

A_COUNT = "Count {row.pk} of run {row.run.code} "
RUNS = [
    Altered(Run, "melt", lambda _: {"melt": makers.make_melt()}, "is of run {row.code} and of another melt", {"lots__isnull": False}),
    Altered(Run, "head", lambda row: {"item": other(row.item)}, "is of run {row.code} and is another head", {"lots__isnull": False}),
    Altered(Lot, "run", lambda _: {"run": Run.objects.create(code="ZZZ9", pattern=Pattern.objects.all()[0], route=Route.objects.all()[0], item=Item.objects.filter(kind="tool")[0], started_at=LATER)}, "Lot {row.code} is of run ZZZ9", {"run__isnull": False, "item__kind": "head"}),
    Altered(RunCount, "taken", {"taken": F("taken") + 1, "good": F("good") + 1}, A_COUNT + "at {row.step} says"),
    Altered(RunCount, "of hafting", {"taken": F("taken") + 1, "good": F("good") + 1}, A_COUNT + "at hafted says", {"step__work": "haft"}),
    Altered(RunCount, "scrap for good", {"good": F("good") - 1, "scrap": F("scrap") + 1}, A_COUNT + "says", {"good__gt": 0, "light": 0}),
    Altered(RunCount, "step", lambda row: {"step": Step.objects.create(route=Route.objects.create(pattern=row.run.pattern, version=9), number=1, name="elsewhere")}, A_COUNT + "is at elsewhere"),
    Altered(CountReject, "quantity", {"qty": F("qty") + 1}, "Count {row.count_id} of run"),
    Altered(CountReject, "fate", {"fate": "scrap"}, "Count {row.count_id} of run", {"fate": "second"}),
    Altered(CountReject, "taken away", None, "Count {row.count_id} of run"),
    Altered(LoadLot, "quantity", {"qty": F("qty") + 1}, "Load lot {row.pk} says"),
    Altered(LoadLot, "open", {"open": True}, "Load lot {row.pk} is open in load", {"open": False, "load__out_at__isnull": False}),
    Altered(LoadLot, "closed", {"open": False}, "Load lot {row.pk} is closed in load", {"open": True}),
    Altered(LoadLot, "taken away", None, "in the oven) is", {"open": True}),
    Altered(OvenLoad, "out", {"out_at": LATER + 9 * DAY, "reached": True}, "is open in load {row.number}", {"out_at": None}),
    Altered(OvenLoad, "in again", {"out_at": None, "reached": None}, "is closed in load {row.number}", {"work": "temper", "out_at__isnull": False}),
    Altered(HandleSort, "bad", {"bad": F("bad") + 1}, "Sorting {row.pk} says"),
]  # fmt: skip

WITH_PIECES = {"reserved__gt": 0}
SHIPMENT_LINE = "Shipment line {row.pk} "
ORDERS = [
    Altered(Order, "number", {"number": 99}, "Order {row.pk} by its row bears number 99"),
    Altered(Order, "money", {"received_minor": 1}, "Order {row.number} says 1 received"),
    Altered(Order, "closed", {"closed_at": LATER}, "Order {row.number} is closed and still owes", {"closed_at": None}),
    Altered(Order, "open", {"closed_at": None}, "Order {row.number} owes nothing", {"closed_at__isnull": False}),
    Altered(Money, "amount", {"amount_minor": F("amount_minor") + 1}, "money lines ({row.pk}"),
    Altered(Money, "taken away", None, "Order {row.order.number} says"),
    Altered(PromiseBasis, "digest", {"digest": "0" * 64}, "Promise basis {row.pk} has digest"),
    Altered(PromiseBasis, "kept", {"inputs": {"packed": "nothing"}}, "Promise basis {row.pk} is not what was kept"),
    Altered(Promise, "chance", {"chance_ppm": 1}, "Promise {row.pk} states 1 in a million", {"source": "calculated"}),
    Altered(Promise, "supersedes", {"supersedes": None}, "Promise {row.pk} supersedes nothing", {"supersedes__isnull": False}),
    Altered(Promise, "order", lambda row: {"order": other(row.order)}, "Promise {row.pk} ", {"supersedes__isnull": False}),
    Altered(Promise, "line", lambda row: {"line": OrderLine.objects.exclude(order=row.order)[0]}, "Promise {row.pk} names a line of another order"),
    Altered(OrderLine, "sent", {"shipped": F("shipped") - 1}, line_name, {"shipped__gt": 0}),
    Altered(OrderLine, "set aside", {"reserved": F("reserved") - 1}, line_name, WITH_PIECES),
    Altered(OrderLine, "cancelled", {"cancelled": F("cancelled") - 1}, line_name, {"cancelled__gt": 0}),
    Altered(OrderLine, "ordered", {"ordered": F("ordered") + 1}, line_name, {"number": 2, "item__isnull": False}),
    Altered(OrderLine, "place in the queue", {"queue_no": 4_000}, line_name),
    Altered(OrderLine, "number", {"number": 40}, lambda row: f"Order {row.order.number} has"),
    Altered(OrderLine, "item", lambda row: {"item": other(row.item)}, line_name, WITH_PIECES),
    Altered(OrderLine, "allocation", lambda _: {"allocation": Allocation.objects.exclude(closed_at=None)[0]}, line_name, WITH_PIECES),
    Altered(OrderLine, "not waiting", {"gathers": False}, lambda row: stock_name(row.item.stock), {"gathers": True}),
    Altered(Release, "order", lambda row: {"order": other(row.order)}, "Release {row.pk} stands in order"),
    Altered(Release, "ended", {"ended_at": LATER}, "Release {row.pk} is ended and its order"),
    Altered(Hold, "quantity", {"qty": F("qty") + 1}, "Hold {row.pk} says", {"ended_at": None}),
    Altered(Hold, "until", lambda row: {"until": row.until + DAY}, "Hold {row.pk} ends at another time", {"ended_at": None}),
    Altered(Hold, "ended", {"ended_at": LATER}, lambda row: f"Allocation {row.allocation_id} is open and has 0 owners", {"ended_at": None}),
    Altered(Hold, "open again", {"ended_at": None}, "Hold {row.pk} is open and its allocation", {"ended_at__isnull": False, "became": None}),
    Altered(Hold, "became", lambda row: {"became": OrderLine.objects.exclude(item=row.item)[0]}, "Hold {row.pk} became", {"became__isnull": False}),
    Altered(Shipment, "number", {"number": 99}, "Shipment {row.pk} by its row bears number 99"),
    Altered(Shipment, "undone", {"reversed_at": LATER}, "Shipment {row.number} was undone in", {"reversed_at": None}),
    Altered(Shipment, "not undone", {"reversed_at": None}, "Shipment {row.number} was undone in", {"reversed_at__isnull": False}),
    Altered(Shipment, "no entry", {"entry": None}, "Shipment {row.number} sent something from stock and names no entry"),
    Altered(Shipment, "entry", lambda _: {"entry": Entry.objects.filter(kind="moved in")[0]}, "Shipment {row.number} names an entry that is no shipment"),
    Altered(ShipmentLine, "quantity", {"qty": F("qty") + 1}, SHIPMENT_LINE, {"line__item__isnull": False}),
    Altered(ShipmentLine, "line", lambda row: {"line": OrderLine.objects.exclude(order=row.shipment.order)[0]}, SHIPMENT_LINE),
    Altered(ShippedLot, "quantity", {"qty": F("qty") + 1}, lambda row: f"Shipment {row.shipment_line.shipment.number} says it sent {row.qty + 1} of {of_lot(row)}"),
    Altered(ShippedLot, "lot", lambda _: {"lot": Lot.objects.filter(item__kind="bar")[0]}, "Shipped lot {row.pk} "),
    Altered(ShippedLot, "taken away", None, lambda row: f"Shipment line {row.shipment_line_id} "),
    Altered(Return, "number", {"number": 99}, "Return {row.pk} by its row bears number 99"),
    Altered(Return, "quantity", {"qty": F("qty") + 1}, "Return {row.number} says"),
    Altered(Return, "inspected", {"inspected": F("inspected") - 1}, "Return {row.number} says", {"inspected__gt": 0}),
    Altered(Return, "undone", {"reversed_at": LATER}, "Return {row.number} was undone in", {"reversed_at": None}),
    Altered(Return, "not undone", {"reversed_at": None}, "Return {row.number} was undone in", {"reversed_at__isnull": False}),
    Altered(Return, "more than was sent", {"qty": 40}, lambda row: f"Shipment line {row.shipment_line_id} sent", {"reversed_at": None}),
    Altered(Return, "shipment line", lambda _: {"shipment_line": ShipmentLine.objects.filter(line__item=None)[0]}, "Return {row.number} brought back a lot"),
    Altered(Return, "entry", lambda _: {"entry": Entry.objects.filter(kind="moved in")[0]}, "Return {row.number} names an entry that is no return"),
    Altered(ReturnOutcome, "quantity", {"qty": F("qty") + 1}, "Return outcome {row.pk} says", {"entry__isnull": False}),
    Altered(ReturnOutcome, "quantity of a re-haft", {"qty": F("qty") + 1}, lambda row: f"Return {row.returned.number} says", {"outcome": "re-haft"}),
    Altered(ReturnOutcome, "undone", {"reversed_at": LATER}, "Return outcome {row.pk} was undone in", {"reversed_at": None, "entry__isnull": False}),
    Altered(ReturnOutcome, "outcome", {"outcome": "re-haft"}, "Return outcome {row.pk} moves pieces where it should not", {"outcome": "second"}),
    Altered(ReturnOutcome, "entry", lambda _: {"entry": Entry.objects.filter(kind="moved in")[0]}, "Return outcome {row.pk} names an entry that is no inspection", {"entry__isnull": False}),
    Altered(ReturnOutcome, "replacement", {"replacement": None}, "Return outcome {row.pk} names a line in replacement", {"outcome": "replaced"}),
    Altered(AuditLine, "who", {"by": "somebody else"}, "Audit line {row.pk} was altered"),
    Altered(AuditLine, "no seal", {"seal": ""}, "Audit line {row.pk} has no seal"),
    Altered(AuditLine, "taken away", None, lambda row: f"Audit line {other(row)} was altered, or a line before it"),
]  # fmt: skip

ALTERED = [*STOCK, *RUNS, *BOOK, *LOTS, *ORDERS]

BY_INSERTION = {Item}  # checked by a test of its own below
EXCUSED = {
    "Freight": "what a supplier asks; no quantity follows from it",
    "SupplierPrice": "what a supplier asks; no quantity follows from it",
    "Bottle": "a vessel; what gas there is, is the book's, and its page says where the two differ",
    "BottleChange": "what was done with a vessel; gas used up is an entry of its own",
    "StockCount": "a list of what is to be looked at",
    "StockCountLine": "what was looked at and when; the difference is an entry of its own",
    "Learned": "worked out anew from the book every night",
    "ForShelf": "a wish; what is made of it is a run",
    "Pattern": "what a head should be; nothing is counted by it",
    "Machine": "a thing that stands there; no quantity follows from it",
    "ToolingSet": "a thing that is in or not; no quantity follows from it",
    "ToolingChange": "a note of what was done to tooling; no quantity follows from it",
    "StepCause": "a word for a reject; counts keep how many",
    "StepUse": "what a step uses from now on; no quantity follows from it",
    "HeadWeight": "what a scale showed; it teaches a share and moves nothing",
    "Hardness": "a reading; it lets heads go or not, and no quantity follows from it",
    "FloorNote": "a note of what stopped the work; nothing is added up from it",
    "BroughtIn": "a customer's own piece; what was used on it is an entry of its own",
    "Question": "asked, and given or forgotten; a day given keeps its own basis",
    "Rating": "worked out anew when something changes",
    "RatedPromise": "worked out anew when something changes",
    "Notice": "words to a customer; no quantity follows from them",
    "WeekPin": "where a hand put a line of the week; no quantity follows from it",
    "Away": "who is out; no quantity follows from it",
    "MachineDown": "what is down; no quantity follows from it",
    "RunForLine": "for whom a run was begun; quantities are the run's and the line's own",
    "Route": "what the work will be; no quantity follows from it",
    "Step": "what the work will be; no quantity follows from it",
    "RecipePart": "what goes into a tool from now on; lots keep what went in, and sets set aside are checked against it",
    "Grade": "a table value that people keep; weights worked out earlier keep theirs",
    "Section": "a name for a shape and size; a bar's must be its item's",
    "Supplier": "an address",
    "Customer": "an address",
    "RefusedDemand": "a note of what could not be given; nothing is added up from it",
    "LimitRow": "a table value that people keep; certificates keep what was found when they were read",
    "ElementLimit": "a table value that people keep; certificates keep what was found when they were read",
    "Certificate": "a paper; no quantity follows from it",
    "CutPlanLine": "what was asked for; what was sawn is counted by the cut",
    "Blade": "what a cut takes from now on; cuts keep the kerf they were booked with",
    "CutRules": "how plans are made from now on; a plan keeps those it was made by",
    "Claim": "words to a supplier; no quantity follows from them",
    "DeliveryPhoto": "a picture; no quantity follows from it",
}


def command(*words: str) -> tuple[int, list[str]]:
    """Run the command and return its exit code and the lines it printed."""
    out = io.StringIO()
    try:
        call_command("check_book", *words, stdout=out)
    except SystemExit as ended:
        return int(str(ended.code)), out.getvalue().splitlines()
    return 0, out.getvalue().splitlines()


def test_busy_days_booked_through_the_services_agree(days: Days) -> None:
    assert check_book(whole=True) == []
    assert check_book() == []
    assert command() == (0, ["The book agrees with its movements."])
    assert command("--since-close") == (0, ["The book agrees with its movements."])


@pytest.mark.parametrize("altered", ALTERED, ids=str)
def test_it_names_the_row_that_was_altered(days: Days, altered: Altered) -> None:
    append_only.drop()
    name = altered.do()
    append_only.ensure()
    code, lines = command()
    assert code == 1
    assert any(name in line for line in lines), (name, lines)
    assert lines[-1] == f"{len(lines) - 1} difference{'s' if len(lines) > 2 else ''}."


def test_it_names_an_item_that_was_written_into_the_table_without_its_stock_row(days: Days) -> None:
    Item.objects.create(code="SMUGGLED", name="Smuggled", kind="handle", unit="piece")
    assert check_book(whole=True) == ["Item SMUGGLED has no stock row."]


def test_sets_set_aside_are_checked_against_what_a_tool_is_made_of(days: Days) -> None:
    RecipePart.objects.filter(tool=days.tool.item, part=days.tool.wedge).update(quantity=5)
    number = days.waiting.number
    assert any(s.startswith(f"Order {number} line 1 ") and "no whole sets" in s for s in check_book(whole=True))


def test_every_table_of_the_shop_is_checked_or_excused_with_a_reason() -> None:
    models = {model for app in ("inventory", "orders") for model in apps.get_app_config(app).get_models()}
    checked = {altered.model for altered in ALTERED} | BY_INSERTION
    excused = {model for model in models if model.__name__ in EXCUSED}
    assert len(excused) == len(EXCUSED)
    assert not checked & excused
    assert {model.__name__ for model in models - checked - excused} == set()


def test_a_missing_number_is_named(days: Days) -> None:
    number = days.waiting.number
    Order.objects.filter(pk=days.waiting.pk).update(number=1_000)
    assert f"Order {number} is missing: the number was given out and no row bears it." in check_book(whole=True)


# ---- since the last close


def unseal(**where: Any) -> Movement:
    """Alter a fact of a movement that no counter shows."""
    append_only.drop()
    movement = Movement.objects.filter(**where).order_by("pk")[0]
    Movement.objects.filter(pk=movement.pk).update(mass_mg=1)
    append_only.ensure()
    return movement


def test_since_the_close_it_reads_only_what_was_booked_after_it(days: Days) -> None:
    before = unseal(pk__lte=BookClose.objects.all()[0].last_movement)
    assert check_book() == []
    assert [sentence.split(" (")[0] for sentence in check_book(whole=True)] == [f"Movement {before.pk}"]


def test_since_the_close_it_names_a_movement_booked_after_it(days: Days) -> None:
    after = unseal(pk__gt=BookClose.objects.all()[0].last_movement)
    assert [sentence.split(" (")[0] for sentence in check_book()] == [f"Movement {after.pk}"]


def test_since_the_close_it_still_names_a_counter_that_nothing_moved(days: Days) -> None:
    holding = Holding.objects.get(lot=days.bar.lot, on_hand__gt=0)
    Holding.objects.filter(pk=holding.pk).update(on_hand=F("on_hand") - 1)
    code, lines = command("--since-close")
    assert code == 1
    assert any(
        line.startswith(f"Holding {holding.pk} ") and "counted from the close of 2026-03" in line for line in lines
    )


# ---- the triggers that keep the book append-only


@pytest.mark.parametrize("table", sorted(append_only.TABLES))
def test_the_database_itself_refuses_to_change_or_delete_a_row(days: Days, table: str) -> None:
    basis = PromiseBasis.objects.create(digest="0" * 64, inputs={}, code_version="test")
    writable = append_only.TABLES[table]
    with connection.cursor() as cursor:
        names = [c.name for c in connection.introspection.get_table_description(cursor, table)]
        cursor.execute(f"SELECT count(*) FROM {table}")
        assert cursor.fetchone()[0] > 0
    assert basis.pk
    for name in names:
        statement = f'UPDATE {table} SET "{name}" = "{name}"'
        if name in writable:
            with connection.cursor() as cursor:
                cursor.execute(statement)
            continue
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {table}")


def test_the_triggers_of_every_append_only_table_stand_in_the_database(days: Days) -> None:
    tables = ("inventory_entry", "inventory_movement", "orders_money", "orders_promise", "orders_promisebasis")
    assert append_only.wanted() == {
        f"{table}_{what}" for table in (*tables, "shared_auditline") for what in ("no_update", "no_delete")
    }
    assert append_only.wanted() <= append_only.present()


def test_a_trigger_that_is_missing_is_named(days: Days) -> None:
    append_only.drop()
    sentences = check_book(whole=True)
    assert len(sentences) == len(append_only.wanted())
    assert (
        "The trigger orders_money_no_update that keeps the book append-only is missing; run after_migrate." in sentences
    )

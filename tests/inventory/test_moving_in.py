"""Moving in: items, customers, stock and open orders from a pasted table, with a dry run, all or nothing, once."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Bar, Entry, Holding, Item, ItemStock, Lot, Melt, RecipePart
from orders.models import Customer, Order, Promise
from shop.flows import moving_in, reversing
from shop.flows.moving_in import MovedInAlready, Report
from shop.shared import shop_row, tables
from shop.shared.errors import Invalid
from shop.shared.models import AuditLine, Series
from tests.makers import AT, line_of, make_customer, make_grade, make_item, make_order, stamp, stands

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]

ITEMS = """code;name;kind;buy unit;per buy unit;retail price;dealer price;made from;grade
H-CP2;Cross peen head 2 lb;head;;;;;;1045
HD-14;Handle 14 in;handle;dozen;12;;;;
W-1;Wedge;consumable;box;100;;;;
CP2;Cross peen 2 lb;tool;;;89,00;66.50;1 H-CP2 + 1 HD-14 + 2 W-1;
"""
STOCK = """item\tgrade\tshape\tsize\tquantity\tmill heat number\tplace\tstep\tbar number\tmeasured
\t1045\tround\t2 in\t19' 11 1/2"\t00731\t\t\tA7K\t
\t1045\tround\t2 in\t3 @ 20 ft\tunknown\t\t\t\tno
HEAD-A\t\t\t\t25\t00731\t\t3\t\t
HEAD-A\t1045\t\t\t10\tunknown\t\t\t\t
HANDLE-A\t\t\t\t3 dozen\t\tBIN\t\t\t
"""


def run(kind: str, table: str | bytes, *, write: bool = True) -> Report:
    with transaction.atomic():
        action = moving_in.move_in if write else moving_in.look
        return action(kind, table, stamp=stamp())


def a_shop() -> None:
    with transaction.atomic():
        shop_row.make(shop_row.Settings(name="Invented", currency="EUR"), at=AT, by="tests")


def some_items() -> None:
    make_item(Item.Kind.HEAD, code="HEAD-A", grade=make_grade("1045"))
    make_item(Item.Kind.HANDLE, code="HANDLE-A")


def everything() -> tuple[int, ...]:
    kinds = (Item, Lot, Entry, Holding, Melt, Customer, Order, AuditLine, Bar, RecipePart)
    return tuple(model.objects.count() for model in kinds)


def test_items_with_prices_and_parts_are_moved_in():
    a_shop()
    report = run("items", ITEMS)
    assert report.written
    assert report.wrong == []
    tool = Item.objects.get(code="CP2")
    assert (tool.retail_minor, tool.dealer_minor) == (8_900, 6_650)
    assert {part.part.code: part.quantity for part in tool.recipe.all()} == {"H-CP2": 1, "HD-14": 1, "W-1": 2}
    assert Item.objects.get(code="HD-14").issue_per_buy == 12
    assert "made from" in report.lines[3].said


def test_stock_is_moved_in_with_bars_heads_at_their_step_and_unknown_mill_heats():
    some_items()
    report = run("stock", STOCK)
    assert report.written, [line.wrong for line in report.lines]
    assert Bar.objects.get(number="A7K").length_nm == 6_083_300_000  # 239.5 in
    assert Holding.objects.filter(place__code="DOOR", lot__bar__measured=False).count() == 3
    head = Item.objects.get(code="HEAD-A")
    at_step = Holding.objects.get(item=head, place__code="FLOOR", step=3)
    assert (at_step.on_hand, at_step.lot.melt.heat_number) == (25, "00731")
    assert ItemStock.objects.get(item=head).sellable == 10
    assert ItemStock.objects.get(item__code="HANDLE-A").sellable == 36
    assert [line.number for line in report.lines] == [2, 3, 4, 5, 6]


def test_a_dry_run_says_what_would_be_made_and_writes_nothing():
    some_items()
    before = everything()
    report = run("stock", STOCK, write=False)
    assert not report.written
    assert report.wrong == []
    assert "3 bars of B-1045-RD-2IN at Door, not yet checked, mill heat unknown" in report.lines[1].said
    assert everything() == before
    assert not Series.objects.filter(name="lot").exists()


def test_one_wrong_line_keeps_the_whole_table_out_and_names_its_column():
    some_items()
    before = everything()
    report = run("stock", STOCK.replace("3 dozen", "3 bushels").replace("unknown\t\t\t\tno", "\t\t\t\tno"))
    assert not report.written
    assert {line.number: set(line.wrong) for line in report.wrong} == {3: {"mill heat number"}, 6: {"quantity"}}
    assert everything() == before


def test_the_same_table_is_moved_in_once_however_it_is_pasted():
    some_items()
    first = run("stock", STOCK)
    again = b"\xef\xbb\xbf" + STOCK.replace("\n", "\r\n").encode()
    with pytest.raises(MovedInAlready) as caught:
        run("stock", again)
    assert f"number {first.number}" in caught.value.sentence
    with pytest.raises(MovedInAlready):
        run("stock", again, write=False)


def test_a_table_with_one_more_line_is_another_table():
    some_items()
    run("stock", "item;quantity\nHANDLE-A;5\n")
    assert run("stock", "item;quantity\nHANDLE-A;5\nHANDLE-A;6\n").written


def test_stock_that_was_undone_may_be_moved_in_again():
    some_items()
    report = run("stock", STOCK)
    with transaction.atomic():
        reversing.reverse(report.entries[0].pk, stamp=stamp())
    again = STOCK.replace("A7K", "A7L")
    assert run("stock", again).written
    with transaction.atomic():
        reversing.reverse(Entry.objects.order_by("-id").first().pk, stamp=stamp())
    # The bar keeps its number in the book, so the very same table names the number that is taken.
    assert set(run("stock", again).wrong[0].wrong) == {"bar number"}


def test_moved_in_stock_serves_the_line_that_waits():
    some_items()
    order = make_order({Item.objects.get(code="HANDLE-A"): 4})
    run("stock", "item,quantity\nHANDLE-A,10\n")
    assert line_of(order).reserved == 4


def test_seconds_stand_where_nothing_is_sold_as_a_first():
    some_items()
    run("stock", "item;quantity;mill heat number;quality\nHEAD-A;4;007;second\n")
    lot = Lot.objects.get(item__code="HEAD-A")
    assert (lot.quality, stands(lot, "SECONDS")) == ("second", 4)
    report = run("stock", "item;quantity;mill heat number;quality;place\nHEAD-A;4;007;second;SHELF\n")
    assert set(report.wrong[0].wrong) == {"place"}


def test_a_cost_is_shared_over_the_bars_of_a_line():
    a_shop()
    make_grade("1045")
    run("stock", "grade;shape;size;quantity;mill heat number;cost\n1045;round;2 in;3 @ 20 ft;007;100,00\n")
    assert sorted(Lot.objects.values_list("cost_minor", flat=True)) == [3_333, 3_333, 3_334]


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("NOPE;5;;;", "item"),
        (";5;;;", "item"),
        ("HANDLE-A;;;;", "quantity"),
        ("HANDLE-A;0;;;", "quantity"),
        ("HANDLE-A;-5;;;", "quantity"),
        ("HANDLE-A;5;CUSTOMER;;", "place"),
        ("HANDLE-A;5;ATTIC;;", "place"),
        ("HEAD-A;5;SHELF;3;007", "step"),
        ("HEAD-A;5;;x;007", "step"),
        ("HEAD-A;5;;;", "mill heat number"),
        ("HEAD-A;5;;;" + "9" * 41, "mill heat number"),
    ],
)
def test_a_wrong_line_of_stock_names_its_column(line, column):
    some_items()
    report = run("stock", f"item;quantity;place;step;mill heat number\n{line}\n")
    assert not report.written
    assert set(report.wrong[0].wrong) == {column}


def test_two_bars_of_a_table_cannot_have_one_number():
    make_grade("1045")
    head = "grade;shape;size;quantity;mill heat number;bar number"
    report = run("stock", f"{head}\n1045;round;2 in;20 ft;007;A7K\n1045;round;2 in;20 ft;007;a7k\n")
    assert [(line.number, set(line.wrong)) for line in report.wrong] == [(3, {"bar number"})]
    report = run("stock", f"{head}\n1045;round;2 in;20 ft;007;O0\n")
    assert [(line.number, set(line.wrong)) for line in report.wrong] == [(2, {"bar number"})]


def test_customers_are_moved_in_once_each():
    report = run("customers", "name,kind,email\nInvented Hardware,dealer,shop@hardware.example\nA. Nobody,,\n")
    assert report.written
    assert Customer.objects.get(name="Invented Hardware").kind == "dealer"
    report = run("customers", "name,kind\nInvented Hardware,dealer\nA. Nother,wholesale\n")
    assert [(line.number, set(line.wrong)) for line in report.wrong] == [(2, {"name"}), (3, {"kind"})]


def test_open_orders_keep_the_days_that_were_given_and_their_place_in_the_queue():
    a_shop()
    some_items()
    run("stock", "item;quantity\nHANDLE-A;10\n")
    make_customer("Invented Hardware", kind="dealer")
    report = run(
        "orders",
        "order;customer;item;words;quantity;price;day given;received\n"
        "1041;Invented Hardware;HANDLE-A;;8;12,50;2026-04-01;50\n"
        "1041;Invented Hardware;;bottle opener with initials;2;30;;\n"
        "1043;invented hardware;HANDLE-A;;5;12,50;2026-04-09;\n",
    )
    assert report.written, [line.wrong for line in report.lines]
    first, second = Order.objects.order_by("number")
    assert (first.reference, first.received_minor, first.lines.count()) == ("1041", 5_000, 2)
    promise = Promise.objects.get(order=first)
    assert (promise.day, promise.source) == (dt.date(2026, 4, 1), "taken over")
    assert (line_of(first).reserved, line_of(second).reserved, line_of(second).waiting) == (8, 2, 3)


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("1;Nobody Known;HANDLE-A;5;", "customer"),
        ("1;Invented Hardware;NOPE;5;", "item"),
        ("1;Invented Hardware;;5;", "item"),
        ("1;Invented Hardware;HANDLE-A;;", "quantity"),
        ("1;Invented Hardware;HANDLE-A;5;next week", "day given"),
        ("1;Invented Hardware;HANDLE-A;5;1026-04-01", "day given"),
    ],
)
def test_a_wrong_line_of_an_order_names_its_column(line, column):
    some_items()
    make_customer("Invented Hardware")
    before = everything()
    report = run("orders", f"order;customer;item;quantity;day given\n{line}\n")
    assert set(report.wrong[0].wrong) == {column}
    assert everything() == before


def test_two_lines_of_one_order_cannot_give_two_days():
    some_items()
    make_customer("Invented Hardware")
    report = run(
        "orders",
        "order;customer;item;quantity;day given\n1;Invented Hardware;HANDLE-A;5;2026-04-01\n"
        "1;Invented Hardware;HANDLE-A;5;2026-04-02\n",
    )
    assert set(report.wrong[0].wrong) == {"day given"}


@pytest.mark.parametrize(
    "table",
    [
        "",
        "   \n\n",
        "item;quantity\n",
        "quantity;colour\n5;red\n",
        "item\nHANDLE-A\n",
        "item;quantity;quantity\nHANDLE-A;5;5\n",
        "item;quantity\nHANDLE-A;5;6\n",
        'item;quantity\n"HANDLE-A;5\n',
        "item;quantity\nHANDLE-A;\0\n",
        b"item;quantity\nHANDLE-\xff;5\n",
        "item;quantity\n" + "x" * 4097 + ";5\n",
        ";".join(f"c{n}" for n in range(101)) + "\n",
    ],
)
def test_a_table_that_is_none_is_refused_as_a_whole(table):
    some_items()
    before = everything()
    with pytest.raises(Invalid) as caught:
        run("stock", table)
    assert set(caught.value.fields) == {"table"}
    assert everything() == before


def test_a_table_too_large_is_refused_before_it_is_read(monkeypatch):
    with pytest.raises(Invalid, match="10 MB"):
        tables.read("item\n" + "x\n" * 6_000_000, known=["item"], needed=[])
    monkeypatch.setattr(tables, "MOST_ROWS", 2)
    with pytest.raises(Invalid, match="more than 2 lines"):
        tables.read("item\na\nb\nc\n", known=["item"], needed=[])


def test_a_kind_of_table_that_is_not_known_is_refused():
    with pytest.raises(Invalid):
        run("secrets", "a;b\n1;2\n")


def test_when_the_last_write_fails_nothing_was_moved_in(monkeypatch):
    some_items()
    before = everything()

    def fail(*_args, **_kwargs):
        raise OSError("disk full")

    monkeypatch.setattr(moving_in, "_note", fail)
    with pytest.raises(OSError, match="disk full"):
        run("stock", STOCK)
    assert everything() == before


def test_a_long_table_becomes_several_entries(monkeypatch):
    some_items()
    monkeypatch.setattr(moving_in.stock, "ENTRY_LINES", 4)
    rows = "".join(f"HANDLE-A;{n}\n" for n in range(1, 11))
    report = run("stock", f"item;quantity\n{rows}")
    assert [entry.lines for entry in report.entries] == [4, 4, 2]
    assert ItemStock.objects.get(item__code="HANDLE-A").sellable == 55

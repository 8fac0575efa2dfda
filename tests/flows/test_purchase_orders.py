"""A purchase order's life: written, changed, sent, confirmed, asked after, paid by the noted prices; letters by real SMTP."""

import datetime as dt
from typing import Any

import pytest
from django.db import transaction

from inventory.models import Freight, Item, PurchaseOrder, Supplier, SupplierPrice
from inventory.queries import as_typed, deliveries, lead_record, order_sum, prices
from inventory.services import purchase_changes, purchasing, reading, receiving, steel_items
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchase_changes import AlreadySent
from inventory.services.purchasing import OrderClosed, ToBuy
from shop.flows import delivering, purchase_letters, purchase_paper, purchase_sending
from shop.shared.errors import Invalid, Stale
from shop.shared.mail import outbox
from shop.shared.models import AuditLine, Message, Shop
from tests import makers
from tests.makers import AT, actor
from tests.people import make_shop
from tests.servers import MailServer

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
DAY = dt.timedelta(days=1)
FT = makers.FOOT_NM


@pytest.fixture
def firm(db: None) -> Supplier:
    make_shop()
    with transaction.atomic():
        return purchasing.add_supplier("Invented Steel", email="orders@steel.example", at=AT, by=actor())


@pytest.fixture
def handles(firm: Supplier) -> Item:
    return makers.make_item(Item.Kind.HANDLE, code="HD-14", name="handle 14 in", buy_unit="dozen", issue_per_buy=12)


@pytest.fixture
def steel(firm: Supplier) -> Item:
    with transaction.atomic():
        return steel_items.bar_item(makers.make_grade(), makers.make_section(), at=AT, by=actor())


@pytest.fixture
def order(firm: Supplier, handles: Item, steel: Item) -> PurchaseOrder:
    """An order of five bars and three dozen handles, not sent yet."""
    with transaction.atomic():
        return purchasing.open_order(
            firm,
            [ToBuy(steel, "5 @ 20 ft", 50_000), ToBuy(handles, "3 dozen", 7_200)],
            ordered_on=AT.date(),
            wanted_on=AT.date() + 9 * DAY,
            note="ring before you come",
            at=AT,
            by=actor(),
        )


@pytest.fixture
def post_office(settings: Any, smtp_server: MailServer) -> MailServer:
    settings.SMTP_HOST, settings.SMTP_PORT, settings.SMTP_TIMEOUT_SECONDS = smtp_server.host, smtp_server.port, 5
    return smtp_server


def send(order: PurchaseOrder, how: str, to: str = "", *, at: dt.datetime = AT, version: int | None = None) -> None:
    with transaction.atomic():
        found = deliveries.order(order.number)
        assert found is not None
        purchase_sending.send(found, how, version=version or found.version, at=at, by=actor(), to=to)


def ask(order: PurchaseOrder, to: str = "", *, at: dt.datetime = AT) -> None:
    with transaction.atomic():
        found = deliveries.order(order.number)
        assert found is not None
        purchase_sending.ask_where(found, version=found.version, at=at, by=actor(), to=to)


def change(order: PurchaseOrder, *lines: ToBuy, version: int | None = None, **facts: Any) -> None:
    order.refresh_from_db()
    usual = {"wanted_on": order.wanted_on, "note": order.note, **facts}
    with transaction.atomic():
        purchase_changes.change(order, lines, version=version or order.version, at=AT, by=actor(), **usual)


def confirm(order: PurchaseOrder, day: dt.date) -> None:
    order.refresh_from_db()
    with transaction.atomic():
        purchasing.confirm(order, day, version=order.version, at=AT, by=actor())


def test_an_order_goes_to_the_supplier_by_e_mail_as_text_and_as_html(
    order: PurchaseOrder, post_office: MailServer
) -> None:
    send(order, "e-mail", "orders@steel.example")
    assert outbox.send_due(lambda: AT) == 1
    (mail,) = post_office.accepted
    assert mail.recipients == ["orders@steel.example"]
    assert mail.message["Subject"] == f"Order {order.number} from Test Forge"
    assert " " not in mail.message["Message-ID"].strip()
    assert mail.message["Reply-To"] is None  # the shop has no address of its own yet
    text = mail.message.get_body(("plain",)).get_content()
    html = mail.message.get_body(("html",)).get_content()
    for said in ("5 bars of 20 ft", "steel 1045, round 2 in", "3 dozen", "handle 14 in", "EN 10204 type 3.1",
                 "ring before you come", f"name order {order.number} on the delivery paper"):  # fmt: skip
        assert said in text.replace("\u2009", " "), said
        assert said in html.replace("\u2009", " "), said
    assert "500.00 USD" in text
    assert "572.00 USD" in text
    order.refresh_from_db()
    assert (order.sent_how, order.sent_to, order.sent_at) == ("e-mail", "orders@steel.example", AT)


def test_the_letter_says_where_goods_are_brought_to_and_answers_go_to_the_shop(
    order: PurchaseOrder, post_office: MailServer
) -> None:
    Shop.objects.update(address="7 Sluice Lane\nHarrow Fen", phone="555 0142", email="office@forge.example")
    send(order, "e-mail", "orders@steel.example")
    outbox.send_due(lambda: AT)
    mail = post_office.accepted[0].message
    assert mail["Reply-To"] == "office@forge.example"
    assert mail["Auto-Submitted"] is None  # somebody sent it; whoever is away may say so
    text = mail.get_body(("plain",)).get_content().replace("\r\n", "\n")
    assert "Bring it to:\nTest Forge\n7 Sluice Lane\nHarrow Fen" in text
    assert "You reach us at 555 0142, office@forge.example." in text
    assert "7 Sluice Lane<br>Harrow Fen" in mail.get_body(("html",)).get_content()
    assert "You reach us at 555 0142" in purchase_letters.where_is_it(order).text


def test_with_steel_the_order_asks_for_what_the_shop_wants(order: PurchaseOrder, handles: Item) -> None:
    Shop.objects.update(steel_papers="With the steel: a test report, EN 10204 type 2.2.")
    assert purchase_paper.of(order).papers == ["With the steel: a test report, EN 10204 type 2.2."]
    Shop.objects.update(steel_papers="")
    assert purchase_paper.of(order).papers == []


def test_an_order_sent_again_says_that_it_is_no_second_one(order: PurchaseOrder, post_office: MailServer) -> None:
    send(order, "e-mail", "orders@steel.example")
    outbox.send_due(lambda: AT)
    send(order, "e-mail", "orders@steel.example", at=AT + dt.timedelta(hours=1))
    outbox.send_due(lambda: AT + dt.timedelta(hours=1))
    first, second = (mail.message for mail in post_office.accepted)
    assert first["Message-ID"] != second["Message-ID"]
    assert second["Subject"].endswith("sent again")
    assert "not a second one" in second.get_body(("plain",)).get_content()
    assert "not a second one" not in first.get_body(("plain",)).get_content()


def test_while_a_letter_waits_no_second_one_is_written_to_the_same_address(order: PurchaseOrder) -> None:
    send(order, "e-mail", "orders@steel.example")
    with pytest.raises(Invalid, match="still waits"):
        send(order, "e-mail", "orders@steel.example", at=AT + 3 * DAY)
    send(order, "e-mail", "works@steel.example")
    assert [one.state for one in purchase_sending.carried(order)] == ["waiting", "waiting"]
    assert Message.objects.count() == 2


def test_a_refused_address_is_given_up_and_another_letter_may_follow(
    order: PurchaseOrder, post_office: MailServer
) -> None:
    post_office.mode = "refuse"
    send(order, "e-mail", "orders@steel.example")
    for hour in range(outbox.MAX_REFUSALS):
        at = AT + dt.timedelta(hours=hour)
        outbox.send_due(lambda at=at: at)
    (one,) = purchase_sending.carried(order)
    assert one.state == "given up"
    assert "no such mailbox" in one.said
    post_office.mode = "accept"
    send(order, "e-mail", "orders@steel.example", at=AT + dt.timedelta(hours=4))
    outbox.send_due(lambda: AT + dt.timedelta(hours=4))
    assert [one.state for one in purchase_sending.carried(order)] == ["given up", "sent"]


def test_after_nine_letters_a_day_somebody_is_to_call(order: PurchaseOrder, post_office: MailServer) -> None:
    for _ in range(purchase_sending.MOST_A_DAY):
        send(order, "e-mail", "orders@steel.example")
        outbox.send_due(lambda: AT)
    with pytest.raises(Invalid, match="call them instead"):
        send(order, "e-mail", "orders@steel.example")
    send(order, "e-mail", "orders@steel.example", at=AT + DAY)
    assert max(len(row.kind) for row in Message.objects.all()) <= 20


def test_letters_of_one_order_are_not_taken_for_those_of_another(order: PurchaseOrder) -> None:
    send(order, "e-mail", "orders@steel.example")
    other = PurchaseOrder(number=int(f"{order.number}1"), supplier=order.supplier)
    assert purchase_sending.carried(other) == []


@pytest.mark.parametrize(("how", "to"), [("printed", ""), ("phone", ""), ("phone", "orders@steel.example")])
def test_paper_and_telephone_are_noted_and_write_no_letter(order: PurchaseOrder, how: str, to: str) -> None:
    send(order, how, to)
    order.refresh_from_db()
    assert (order.sent_how, order.sent_to, order.sent_at) == (how, "", AT)
    assert not Message.objects.exists()
    assert AuditLine.objects.filter(action="purchase order sent").count() == 1


@pytest.mark.parametrize("to", ["", "nobody", "a b@steel.example", f"{'a' * 250}@steel.example"])
def test_an_address_that_is_none_is_refused_and_nothing_is_sent(order: PurchaseOrder, to: str) -> None:
    with pytest.raises(Invalid, match="E-mail: write"):
        send(order, "e-mail", to)
    order.refresh_from_db()
    assert (order.sent_how, Message.objects.count()) == ("", 0)


def test_an_unknown_way_of_sending_is_refused(order: PurchaseOrder) -> None:
    with pytest.raises(Invalid, match="is no way"):
        send(order, "pigeon")


def test_an_address_goes_with_an_e_mail_only(order: PurchaseOrder) -> None:
    with pytest.raises(Invalid, match="an address goes with"), transaction.atomic():
        purchase_changes.send(order, "phone", to="a@b.example", version=order.version, at=AT, by=actor())


def test_what_was_read_too_long_ago_is_not_sent(order: PurchaseOrder) -> None:
    send(order, "phone")
    with pytest.raises(Stale):
        send(order, "e-mail", "orders@steel.example", version=1)
    assert not Message.objects.exists()


def test_lines_are_written_anew_while_the_order_is_not_sent(order: PurchaseOrder, handles: Item, steel: Item) -> None:
    change(order, ToBuy(handles, "5 dozen", 12_000), ToBuy(steel, "2 @ 12 ft"), note="")
    rows = list(order.lines.order_by("number").values_list("number", "item", "qty", "bars", "price_minor"))
    assert rows == [(1, handles.pk, 60, None, 12_000), (2, steel.pk, 24 * FT, 2, None)]
    assert order.note == ""
    line = AuditLine.objects.get(action="purchase order changed")
    assert "3 dozen of HD-14" in str(line.before)


def test_a_refused_change_leaves_the_lines(order: PurchaseOrder, handles: Item) -> None:
    for lines, facts in (
        ([], {}),
        ([ToBuy(handles, "a few")], {}),
        ([ToBuy(handles, "3")], {"wanted_on": order.ordered_on - DAY}),
    ):
        with pytest.raises(Invalid):
            change(order, *lines, **facts)
    assert order.lines.count() == 2
    with pytest.raises(Stale):
        change(order, ToBuy(handles, "3"), version=9)


def test_a_sent_a_confirmed_and_a_met_order_are_not_changed(order: PurchaseOrder, handles: Item) -> None:
    with transaction.atomic():
        receiving.start(order.supplier, order=order, typed=Paper([]), at=AT, by=actor())
    with pytest.raises(AlreadySent, match="A delivery was begun"):
        change(order, ToBuy(handles, "3"))
    confirm(order, AT.date() + 7 * DAY)
    with pytest.raises(AlreadySent, match="confirmed"):
        change(order, ToBuy(handles, "3"))
    send(order, "phone")
    with pytest.raises(AlreadySent, match="is sent"):
        change(order, ToBuy(handles, "3"))
    assert not purchase_changes.may_change(PurchaseOrder.objects.get(pk=order.pk))
    assert order.lines.count() == 2


def test_a_closed_order_is_neither_sent_nor_changed_nor_asked_after(order: PurchaseOrder, handles: Item) -> None:
    with transaction.atomic():
        purchasing.close(order, version=order.version, at=AT, by=actor())
    for call in (lambda: send(order, "phone"), lambda: ask(order), lambda: change(order, ToBuy(handles, "3"))):
        with pytest.raises(OrderClosed):
            call()


def test_the_day_first_promised_is_kept_when_later_ones_come(order: PurchaseOrder) -> None:
    first, later = dt.date(2026, 3, 3), dt.date(2026, 3, 10)
    day = AT.date()
    confirm(order, day + 3 * DAY)
    confirm(order, day + 10 * DAY)
    confirm(order, day + 12 * DAY)
    assert (order.first_confirmed_on, order.confirmed_on) == (day + 3 * DAY, day + 12 * DAY)
    order.first_confirmed_on, order.confirmed_on = first, later
    assert purchase_letters.promised(order) == "Promised for Tue 3 Mar, now Tue 10 Mar"
    order.confirmed_on = first
    assert purchase_letters.promised(order) == "Promised for Tue 3 Mar"


def test_an_order_confirmed_before_first_days_were_kept_keeps_the_day_it_had(order: PurchaseOrder) -> None:
    old = AT.date() + 2 * DAY
    PurchaseOrder.objects.filter(pk=order.pk).update(confirmed_on=old)
    confirm(order, AT.date() + 5 * DAY)
    assert order.first_confirmed_on == old


def test_asking_is_noted_by_its_day_and_writes_a_letter_where_wanted(
    order: PurchaseOrder, post_office: MailServer
) -> None:
    confirm(order, AT.date() + DAY)
    confirm(order, AT.date() + 4 * DAY)
    ask(order, at=AT + 5 * DAY)
    order.refresh_from_db()
    today = order.asked_on
    assert today is not None
    assert purchase_letters.asked(order, today) == "Asked today, no day yet"
    assert purchase_letters.asked(order, today + DAY).startswith("Asked on ")
    assert not Message.objects.exists()
    ask(order, "orders@steel.example", at=AT + 6 * DAY)
    outbox.send_due(lambda: AT + 6 * DAY)
    (mail,) = post_office.accepted
    text = mail.message.get_body(("plain",)).get_content()
    assert mail.message["Subject"].startswith(f"Where is order {order.number}")
    assert "5 bars" in text
    assert "3 dozen" in text
    assert ", now " in text
    (carried,) = purchase_sending.carried(order)
    assert carried.asking


def test_what_has_come_is_not_asked_after(order: PurchaseOrder, steel: Item) -> None:
    with transaction.atomic():
        line = PaperLine(order_line="1", heat_number="007", bars="5 @ 20 ft", measured="yes")
        delivering.receive(order.supplier, Paper([line]), order=order, stamp=makers.stamp())
    found = deliveries.order(order.number)
    assert found is not None
    text = purchase_letters.where_is_it(found).text
    assert "bars" not in text
    assert "3 dozen" in text


def test_prices_that_are_noted_fill_in_the_line_by_quantity_and_length(
    firm: Supplier, handles: Item, steel: Item
) -> None:
    note = {"supplier": firm, "noted_on": AT.date()}
    SupplierPrice.objects.create(item=handles, from_qty=1, price_minor=2_400, **note)
    SupplierPrice.objects.create(item=handles, from_qty=5, price_minor=2_000, **note)
    SupplierPrice.objects.create(item=steel, length_nm=20 * FT, from_qty=1, price_minor=9_800, **note)
    wanted = [("4 dozen", 9_600), ("5 dozen", 10_000), ("6", None)]
    bars = [("3 @ 20 ft", 29_400), ("3 @ 12 ft", None), ("1 @ 20 ft, 1 @ 12 ft", None)]
    lines = [ToBuy(handles, typed) for typed, _ in wanted] + [ToBuy(steel, typed) for typed, _ in bars]
    with transaction.atomic():
        made = purchasing.open_order(firm, lines, ordered_on=AT.date(), at=AT, by=actor())
    found = list(made.lines.order_by("number").values_list("price_minor", flat=True))
    assert found == [price for _, price in wanted + bars]
    assert prices.by_length(steel.pk, firm.pk) == [(20 * FT, 9_800)]
    assert prices.by_length(steel.pk, None) == [(20 * FT, 9_800)]


def test_a_price_that_was_typed_goes_before_the_noted_one(firm: Supplier, handles: Item) -> None:
    SupplierPrice.objects.create(supplier=firm, item=handles, price_minor=2_400, noted_on=AT.date())
    with transaction.atomic():
        made = purchasing.open_order(firm, [ToBuy(handles, "1 dozen", 0)], ordered_on=AT.date(), at=AT, by=actor())
    assert made.lines.get().price_minor == 0


def test_an_order_comes_to_its_goods_and_the_carriage_of_the_step_it_reaches(order: PurchaseOrder) -> None:
    found = deliveries.order(order.number)
    assert found is not None
    assert order_sum.of(found) == order_sum.OrderSum(57_200, 0, None)
    for start, minor in ((0, 4_000), (50_000, 1_500), (60_000, 0)):
        Freight.objects.create(supplier=order.supplier, from_minor=start, freight_minor=minor)
    assert order_sum.of(found).freight == 1_500
    # 100 ft of 2 in round weigh about 1 069 lb (10.69 lb/ft): the step by mass is the dearer one.
    Freight.objects.create(supplier=order.supplier, from_mass_mg=453_592_370, freight_minor=9_000)
    assert order_sum.of(found).freight == 9_000
    paper = purchase_paper.of(found)
    assert (paper.total, paper.freight) == ("572.00 USD", "90.00 USD")


def test_the_paper_says_bars_of_which_a_part_was_cancelled_together(order: PurchaseOrder) -> None:
    line = order.lines.get(number=1)
    assert purchase_paper.many(line) == "5 bars of 20 ft"
    line.bars, line.qty = 2, 40 * FT
    assert purchase_paper.many(line) == "2 bars, 40 ft together"
    line.bars, line.qty, line.typed = 3, 44 * FT, "2 @ 20 ft, 1 @ 4 ft"
    assert purchase_paper.many(line) == "2 bars of 20 ft, 1 bar of 4 ft"


def test_chemicals_come_with_their_safety_sheet(firm: Supplier) -> None:
    oil = makers.make_item(Item.Kind.CONSUMABLE, code="OIL", safety_sheet="https://oil.example/sheet")
    with transaction.atomic():
        made = purchasing.open_order(firm, [ToBuy(oil, "2"), ToBuy(oil, "3")], ordered_on=AT.date(), at=AT, by=actor())
    found = deliveries.order(made.number)
    assert found is not None
    assert purchase_paper.of(found).papers == ["With lines 1, 2: the safety data sheet."]


def cancel(order: PurchaseOrder, number: int) -> None:
    order.refresh_from_db()
    with transaction.atomic():
        purchasing.cancel_line(order.lines.get(number=number), version=order.version, at=AT, by=actor())


def come(order: PurchaseOrder, *lines: PaperLine) -> None:
    with transaction.atomic():
        delivering.receive(order.supplier, Paper(list(lines)), order=order, stamp=makers.stamp())


def test_a_line_cancelled_in_part_costs_and_says_what_came(order: PurchaseOrder, handles: Item, steel: Item) -> None:
    other = makers.make_item(Item.Kind.CONSUMABLE, code="WAX-T", name="paste wax", buy_unit="tin")
    change(order, ToBuy(steel, "5 @ 20 ft", 50_001), ToBuy(handles, "10 dozen", 55_555), ToBuy(handles, "60", 100),
           ToBuy(other, "2"))  # fmt: skip
    come(
        order,
        PaperLine(order_line="1", heat_number="007", bars="3 @ 20 ft", measured="yes"),
        PaperLine(order_line="2", quantity="1 dozen"),
        PaperLine(order_line="3", quantity="29"),
    )
    for number in (1, 2, 3):
        cancel(order, number)
    rows = list(order.lines.order_by("number").values_list("qty", "bars", "typed", "price_minor"))
    assert rows == [
        (60 * FT, 3, "5 @ 20 ft", 30_001),
        (12, None, "1 dozen", 5_556),
        (29, None, "29", 48),
        (2, None, "2", None),
    ]
    assert prices.unit_costs({handles.pk: handles})[handles.pk] == pytest.approx(48 / 29)


@pytest.mark.parametrize(
    ("unit", "qty", "said"), [("ug", 1_250_000, "1.25 kg"), ("ul", 2_000_000, "2 L"), ("ul", 3_785_412, "3.785412 L")]
)
def test_what_came_is_written_so_that_it_is_read_back(unit: str, qty: int, said: str) -> None:
    item = Item(code="X", unit=Item.Unit.MG if unit == "ug" else Item.Unit.UL)
    assert as_typed.goods(item, qty) == said
    assert reading.quantity(said, item).qty == qty


def test_what_was_cancelled_after_the_supplier_had_it_is_named_to_them(
    order: PurchaseOrder, handles: Item, steel: Item
) -> None:
    wax = makers.make_item(Item.Kind.CONSUMABLE, code="WAX-T", name="paste wax", buy_unit="tin")
    change(order, ToBuy(steel, "5 @ 20 ft"), ToBuy(handles, "3 dozen"), ToBuy(wax, "2 tins"), ToBuy(wax, "7 tins"))
    cancel(order, 4)
    found = deliveries.order(order.number)
    assert found is not None
    assert purchase_paper.of(found).cancelled == "", "the supplier never read of it"
    send(order, "phone")
    come(order, PaperLine(order_line="1", heat_number="007", bars="3 @ 20 ft", measured="yes"))
    cancel(order, 3)
    cancel(order, 1)
    said = "Cancelled: 2 bars of steel 1045, round 2 in, 2 tins of paste wax."
    found = deliveries.order(order.number)
    assert found is not None
    assert purchase_paper.of(found).cancelled == said
    letter = purchase_sending.letter(found, zone="UTC")
    assert said in letter.text
    assert said in letter.html


def test_an_order_closed_before_the_supplier_had_it_is_in_no_record(
    order: PurchaseOrder, firm: Supplier, handles: Item, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lead_record, "MOST", 2)
    for n in range(3):
        with transaction.atomic():
            later = AT.date() + (n + 1) * DAY
            written_at = AT + (n + 1) * DAY
            made = purchasing.open_order(
                firm, [ToBuy(handles, f"{n + 1} dozen")], ordered_on=later, at=written_at, by=actor()
            )
        if n == 2:
            send(made, "phone")
        made.refresh_from_db()
        with transaction.atomic():
            purchasing.close(made, version=made.version, at=AT, by=actor())
    found = lead_record.lines([firm.pk], zone="UTC")[firm.pk]
    assert [one.line.typed for one in found] == ["3 dozen", "3 dozen"]
    assert [one.line.order.number for one in lead_record.told(found)] == [order.number]


def test_a_day_far_off_is_said_with_its_year_and_one_beyond_two_years_is_refused(order: PurchaseOrder) -> None:
    confirm(order, AT.date() + 400 * DAY)
    assert purchase_letters.promised(order).endswith(str((AT.date() + 400 * DAY).year))
    with pytest.raises(Invalid, match="more than two years away"):
        confirm(order, AT.date() + 900 * DAY)

"""Purchase orders as a browser without script sees them: written, changed, sent, printed, asked after, and the supplier's record."""

import datetime as dt

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import CutPlan, Item, PurchaseOrder, Supplier, SupplierPrice
from inventory.services import purchasing, steel_items
from inventory.services.cut_asking import Buy, Question, Wanted
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchasing import ToBuy
from shop.flows import cut_answering, cut_plans, delivering
from shop.shared import clock
from shop.shared.models import Message, Shop
from tests import makers
from tests.makers import AT, actor
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
DAY = dt.timedelta(days=1)
FT = makers.FOOT_NM


@pytest.fixture
def desk(db: None) -> Client:
    make_shop()
    return client_of("desk")


@pytest.fixture
def firm(desk: Client) -> Supplier:
    makers.make_item(Item.Kind.HANDLE, code="HD-14", name="handle 14 in", buy_unit="dozen", issue_per_buy=12)
    with transaction.atomic():
        return purchasing.add_supplier("Invented Steel", email="orders@steel.example", at=AT, by=actor())


@pytest.fixture
def steel(firm: Supplier) -> Item:
    with transaction.atomic():
        made = steel_items.bar_item(makers.make_grade(), makers.make_section(), at=AT, by=actor())
    Item.objects.filter(pk=made.pk).update(supplier=firm)
    return made


@pytest.fixture
def order(firm: Supplier, steel: Item) -> PurchaseOrder:
    with transaction.atomic():
        lines = [ToBuy(steel, "5 @ 20 ft", 50_000), ToBuy(Item.objects.get(code="HD-14"), "3 dozen")]
        return purchasing.open_order(firm, lines, ordered_on=AT.date(), at=AT, by=actor())


@pytest.fixture
def late(order: PurchaseOrder) -> PurchaseOrder:
    """The order, promised twice and late since yesterday."""
    today = clock.local_date(clock.now(), "UTC")
    PurchaseOrder.objects.filter(pk=order.pk).update(
        first_confirmed_on=today - 8 * DAY, confirmed_on=today - DAY, sent_how="phone", sent_at=AT
    )
    order.refresh_from_db()
    return order


def page_of(order: PurchaseOrder, *rest: str) -> str:
    return "/".join([f"/door/order/{order.number}", *rest])


def plain(answer: object) -> str:
    return text(answer).replace("\u00a0", " ").replace("\u202f", " ").replace("\u2009", " ")  # type: ignore[arg-type]


def test_an_order_grows_line_by_line_and_keeps_what_was_typed(desk: Client, firm: Supplier) -> None:
    form = forms(desk.get("/door/order"))[0]
    assert "item_3" in form.fields
    assert "item_4" not in form.fields
    typed = {**form.fields, "supplier": firm.name, "item_0": "HD-14", "qty_0": "nonsense", "do": "more"}
    more = desk.post("/door/order", typed)
    assert more.status_code == 200
    form = forms(more)[0]
    assert "item_4" in form.fields
    assert form.fields["qty_0"] == "nonsense"
    assert form.fields["request_key"] == typed["request_key"]
    assert not PurchaseOrder.objects.exists()
    lines = {f"item_{n}": "HD-14" for n in range(5)} | {f"qty_{n}": f"{n + 1} dozen" for n in range(5)}
    said = follow(desk, desk.post("/door/order", {**form.fields, **lines, "price_4": "60.00", "do": ""}))
    assert "written down, and not sent yet" in plain(said)
    made = PurchaseOrder.objects.get()
    assert list(made.lines.order_by("number").values_list("qty", "price_minor")) == [
        (12, None), (24, None), (36, None), (48, None), (60, 6_000),
    ]  # fmt: skip


def test_forty_lines_that_a_proposal_fills_in_are_all_there_and_no_more_are_offered(
    desk: Client, firm: Supplier
) -> None:
    filled = {f"item_{n}": "HD-14" for n in range(40)} | {f"qty_{n}": "1 piece" for n in range(40)}
    answer = desk.get("/door/order", {"supplier": firm.name, **filled})
    form = forms(answer)[0]
    assert "item_39" in form.fields
    assert ("do", "more") not in form.buttons
    desk.post("/door/order", form.fields)
    assert PurchaseOrder.objects.get().lines.count() == 40


def test_the_same_order_of_a_day_is_written_twice_only_by_the_button_for_it(desk: Client, firm: Supplier) -> None:
    typed = {"supplier": firm.name, "item_0": "HD-14", "qty_0": "3 dozen"}

    def write(**more: str) -> object:
        form = forms(desk.get("/door/order"))[0]  # a new key, as after the browser's way back
        return desk.post("/door/order", {**form.fields, **typed, **more})

    write()
    first = PurchaseOrder.objects.get()
    again = write(qty_0="36 pieces")
    assert again.status_code == 409  # type: ignore[attr-defined]
    assert f"Order {first.number} to {firm.name} of the same day asks for the same already" in plain(again)
    assert PurchaseOrder.objects.count() == 1
    form = forms(again)[0]  # type: ignore[arg-type]
    assert ("second", "yes") in form.buttons
    said = plain(follow(desk, desk.post("/door/order", {**form.fields, "second": "yes"})))
    assert f"Order {first.number + 1} to {firm.name} is written down" in said
    write(qty_0="4 dozen")
    PurchaseOrder.objects.update(closed_at=AT)
    write()
    assert PurchaseOrder.objects.count() == 4


def test_an_order_is_changed_until_it_is_sent(desk: Client, order: PurchaseOrder) -> None:
    page = page_of(order, "change")
    form = forms(desk.get(page))[0]
    assert form.fields["qty_0"] == "5 @ 20 ft"
    assert form.fields["price_0"] == "500.00"
    assert "supplier" not in form.fields
    more = desk.post(page, {**form.fields, "do": "more"})
    assert forms(more)[0].fields["version"] == form.fields["version"]
    said = follow(desk, desk.post(page, {**form.fields, "qty_0": "4 @ 20 ft", "item_1": "", "qty_1": ""}))
    assert "is changed" in plain(said)
    assert list(order.lines.values_list("bars", "price_minor")) == [(4, 50_000)]
    again = desk.post(page, {**form.fields, "request_key": "", "qty_0": "3 @ 20 ft"})
    assert again.status_code == 412
    press(desk, page_of(order, "send"), how="phone")
    assert desk.get(page).status_code == 404
    assert "Change it" not in plain(desk.get(page_of(order)))
    order.refresh_from_db()
    late = desk.post(page, {**form.fields, "version": str(order.version), "request_key": ""})
    assert "is sent" in plain(late)


def test_a_changed_quantity_is_priced_anew_unless_a_person_wrote_the_price(desk: Client, firm: Supplier) -> None:
    handles = Item.objects.get(code="HD-14")
    for start, minor in ((1, 5_600), (20, 5_000)):
        SupplierPrice.objects.create(supplier=firm, item=handles, from_qty=start, price_minor=minor, noted_on=AT.date())
    with transaction.atomic():
        lines = [ToBuy(handles, "24 dozen"), ToBuy(handles, "2 dozen", 9_900)]
        made = purchasing.open_order(firm, lines, ordered_on=AT.date(), at=AT, by=actor())
    assert list(made.lines.order_by("number").values_list("price_minor", flat=True)) == [120_000, 9_900]
    form = forms(desk.get(page_of(made, "change")))[0]
    assert (form.fields["price_0"], form.fields["price_1"]) == ("", "99.00")
    desk.post(page_of(made, "change"), {**form.fields, "qty_0": "12 dozen", "qty_1": "3 dozen"})
    assert list(made.lines.order_by("number").values_list("price_minor", flat=True)) == [67_200, 9_900]


def test_a_wrong_line_is_pointed_at_where_it_stands(desk: Client, order: PurchaseOrder) -> None:
    answer = press(desk, page_of(order, "change"), item_0="", qty_0="", price_0="", qty_1="a few")
    assert answer.status_code == 422
    assert 'id="id_qty_1_say"' in answer.content.decode()
    assert forms(answer)[0].fields["qty_1"] == "a few"


def test_the_letter_is_looked_at_before_it_goes_and_the_page_says_how_far_it_is(
    desk: Client, order: PurchaseOrder
) -> None:
    page = plain(desk.get(page_of(order, "send")))
    assert "5 bars of 20 ft: steel 1045, round 2 in" in page
    assert "EN 10204 type 3.1" in page
    assert f"Order {order.number} from Test Forge" in page
    assert not Message.objects.exists()
    form = forms(desk.get(page_of(order, "send")))[0]
    assert form.fields["to"] == "orders@steel.example"
    said = plain(follow(desk, desk.post(page_of(order, "send"), {**form.fields, "how": "e-mail"})))
    assert "Sent by e-mail to orders@steel.example" in said
    assert "waiting to be sent. No mail server is set" in said
    Message.objects.update(state="sent", sent_at=AT)
    assert "taken by the mail server" in plain(desk.get(page_of(order)))
    Message.objects.update(state="given_up", sent_at=None, log=[{"at": "", "said": "refused: 550 nobody"}])
    assert "given up. refused: 550 nobody" in plain(desk.get(page_of(order)))


def test_the_same_letter_sent_twice_from_one_form_goes_once(desk: Client, order: PurchaseOrder) -> None:
    form = forms(desk.get(page_of(order, "send")))[0]
    for _ in range(2):
        answer = desk.post(page_of(order, "send"), {**form.fields, "how": "e-mail"})
        assert answer["Location"] == page_of(order)
    assert Message.objects.count() == 1


def test_a_wrong_address_comes_back_filled_in(desk: Client, order: PurchaseOrder) -> None:
    answer = press(desk, page_of(order, "send"), how="e-mail", to="nobody at home")
    assert answer.status_code == 422
    assert forms(answer)[0].fields["to"] == "nobody at home"
    assert "write the supplier’s address" in plain(answer).replace("'", "’")


def test_printing_opens_the_paper(desk: Client, order: PurchaseOrder) -> None:
    answer = press(desk, page_of(order, "send"), how="printed")
    assert answer["Location"] == page_of(order, "paper")
    paper = plain(desk.get(answer["Location"]))
    for said in ("Invented Steel", "5 bars of 20 ft", "steel 1045, round 2 in", "3 dozen", "handle 14 in", "500.00"):
        assert said in paper, said
    assert "Together" not in paper, "one line has no price"
    assert "Sent on paper" in plain(desk.get(page_of(order)))
    assert "not a second one" in plain(desk.get(page_of(order, "send")))


def test_both_days_stand_on_the_page_and_at_the_door(desk: Client, order: PurchaseOrder) -> None:
    press(desk, page_of(order), day=str(AT.date() + 7 * DAY))
    press(desk, page_of(order), day=str(AT.date() + 14 * DAY))
    for page in (page_of(order), "/door"):
        assert ", now " in plain(desk.get(page))
    order.refresh_from_db()
    assert order.first_confirmed_on == AT.date() + 7 * DAY


@pytest.mark.parametrize(("start", "at"), [("/door", 0), ("/", 0)])
def test_a_late_order_is_asked_after_by_one_touch(desk: Client, late: PurchaseOrder, start: str, at: int) -> None:
    form = next(one for one in forms(desk.get(start)) if one.action == page_of(late, "asked"))
    said = follow(desk, desk.post(form.action, form.fields))
    assert said.request["PATH_INFO"] == start
    assert f"was asked today where order {late.number} is" in plain(said)
    page = plain(desk.get(start))
    assert "Asked today, no day yet" in page
    assert not any(one.action == page_of(late, "asked") for one in forms(desk.get(start)))
    PurchaseOrder.objects.filter(pk=late.pk).update(asked_on=AT.date())
    assert "Asked on " in plain(desk.get(start))
    assert not Message.objects.exists()


def test_who_stands_at_the_door_without_the_desk_is_not_offered_to_ask(late: PurchaseOrder) -> None:
    hand = client_of("hand")
    assert "Asked today" not in plain(hand.get("/door"))
    assert hand.get(page_of(late, "asked")).status_code == 403


def test_the_question_stands_there_to_copy_or_goes_by_e_mail(desk: Client, late: PurchaseOrder) -> None:
    page = plain(desk.get(page_of(late, "asked")))
    assert "Of it we still wait for:" in page
    assert "1. 5 bars: 1045 round 2 in" in page
    said = plain(follow(desk, press(desk, page_of(late, "asked"), do="mail")))
    assert "by e-mail to orders@steel.example" in said
    assert Message.objects.get().kind == f"asked {late.number}"
    wrong = press(desk, page_of(late, "asked"), do="mail", to="")
    assert wrong.status_code == 422


def test_one_line_is_cancelled_on_its_page(desk: Client, order: PurchaseOrder) -> None:
    assert "Cancel line 2" in plain(desk.get(page_of(order)))
    said = follow(desk, press(desk, page_of(order, "line", "2"), reason="not made any more"))
    assert "Line 2 is cancelled" in plain(said)
    assert "Cancelled:" not in plain(said), "nobody was sent it"
    assert order.lines.count() == 1
    assert desk.get(page_of(order, "line", "2")).status_code == 404
    last = press(desk, page_of(order, "line", "1"))
    assert "close the order instead" in plain(last)


def test_a_line_cancelled_of_a_sent_order_is_named_on_page_paper_and_letter(desk: Client, order: PurchaseOrder) -> None:
    press(desk, page_of(order, "send"), how="phone")
    press(desk, page_of(order, "line", "2"))
    for page in ((), ("paper",), ("send",)):
        assert "Cancelled: 3 dozen of handle 14 in." in plain(desk.get(page_of(order, *page)))


def test_a_supplier_shows_promised_against_actual_item_by_item(desk: Client, firm: Supplier, steel: Item) -> None:
    handles = Item.objects.get(code="HD-14")
    for n, late in enumerate((0, 3, -2)):
        begun = AT - dt.timedelta(days=60 - n)
        with transaction.atomic():
            made = purchasing.open_order(
                firm, [ToBuy(handles, "4 dozen")], ordered_on=begun.date(), at=begun, by=actor()
            )
            purchasing.confirm(made, begun.date() + 10 * DAY, version=1, at=begun, by=actor())
            come = begun + dt.timedelta(days=10 + late)
            for part, at in (("12", come - DAY), ("36", come)) if n == 1 else (("48", come),):
                paper = Paper([PaperLine(order_line="1", quantity=part)])
                delivering.receive(firm, paper, order=made, stamp=makers.stamp(at=at))
    with transaction.atomic():
        purchasing.open_order(firm, [ToBuy(steel, "2 @ 20 ft")], ordered_on=AT.date(), at=AT, by=actor())
    page = plain(desk.get(f"/door/supplier/{firm.pk}"))
    assert "Half came within ten days, the slowest took 13." in page
    assert "2 of 3 were there by the day first promised." in page
    assert "half came on the day, the worst three days late" in page
    assert "One line came in parts." in page
    assert "One line is waited for" in page
    assert "25 of 100" in page
    assert "75 of 100" in page
    assert f'href="/door/supplier/{firm.pk}"' in desk.get("/door/order/1").content.decode()


def test_an_order_without_any_price_does_not_come_to_nothing(desk: Client, firm: Supplier) -> None:
    with transaction.atomic():
        lines = [ToBuy(Item.objects.get(code="HD-14"), "3 dozen")]
        made = purchasing.open_order(firm, lines, ordered_on=AT.date(), at=AT, by=actor())
    page = plain(desk.get(page_of(made)))
    assert "0.00" not in page
    assert page.count("not known") == 2


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("30", "HD-14 is bought by the dozen of 12; write 3 dozen, or 30 pieces."),
        ("999999 dozen", "999 999 dozen is far out of range; up to 20000 would work."),
    ],
)
def test_a_quantity_that_may_be_a_slip_is_asked_back(desk: Client, firm: Supplier, typed: str, said: str) -> None:
    answer = press(desk, "/door/order", supplier=firm.name, item_0="HD-14", qty_0=typed)
    assert said in plain(answer)
    assert 'id="id_qty_0_say"' in answer.content.decode()
    assert not PurchaseOrder.objects.exists()
    follow(desk, press(desk, "/door/order", supplier=firm.name, item_0="HD-14", qty_0="30 pieces", qty_1=""))
    assert PurchaseOrder.objects.get().lines.get().qty == 30


def test_a_supplier_of_whom_nothing_is_known_says_so(desk: Client, firm: Supplier) -> None:
    assert "Nothing has been ordered there yet" in plain(desk.get(f"/door/supplier/{firm.pk}"))
    assert desk.get("/door/supplier/999999").status_code == 404


def planned(steel: Item, *, buy: bool = True) -> CutPlan:
    """A plan of forty blanks of 14 in, to be cut from bars that may be bought."""
    assert steel.grade is not None
    assert steel.section is not None
    with transaction.atomic():
        blank = steel_items.blank_item(steel.grade, steel.section, 14 * 25_400_000, at=AT, by=actor())
        makers.put_in(steel, 12 * FT)
        sold = [Buy(20 * FT, 9_800, "20 ft")] if buy else []
        question = Question(steel, [Wanted(blank, 40)], 1_587_500, buyable=sold, seconds=1)
        plan = cut_plans.ask(question, at=AT, by=actor())
    cut_answering.work({"plan": plan.pk}, AT)
    plan.refresh_from_db()
    return plan


def test_the_bars_that_a_cut_plan_buys_are_ordered_from_it_with_its_waste(desk: Client, steel: Item) -> None:
    steel.refresh_from_db()
    plan = planned(steel)
    page = desk.get(f"/rack/plan/{plan.number}")
    assert "Order these bars" in plain(page)
    body = page.content.decode().replace("&amp;", "&")
    start = body.index("/door/order?")
    written = desk.get(body[start : body.index('"', start)])
    assert "Waste:" in plain(written)
    form = forms(written)[0]
    bars = int(form.fields["qty_0"].split(" @ ")[0])
    assert form.fields["qty_0"].endswith("@ 20 ft")
    assert form.fields["price_0"] == f"{bars * 98}.00"
    assert form.fields["supplier"] == "Invented Steel"
    said = plain(follow(desk, desk.post("/door/order", form.fields)))
    made = PurchaseOrder.objects.get()
    assert made.cut_plan == plan
    assert made.lines.get().bars == bars
    assert f"Cut plan {plan.number}." in said
    assert "blanks. Waste:" in said
    page = plain(desk.get(f"/rack/plan/{plan.number}"))
    assert f"Order {made.number} was written for it" in page
    assert "Order these bars" not in page
    assert "Order them once more" in page


def test_the_question_of_a_cut_plan_offers_the_lengths_that_prices_are_noted_for(
    desk: Client, firm: Supplier, steel: Item
) -> None:
    facts = {"item": steel, "noted_on": AT.date()}
    SupplierPrice.objects.create(supplier=firm, length_nm=20 * FT, price_minor=9_800, **facts)
    SupplierPrice.objects.create(supplier=firm, length_nm=20 * FT, price_minor=9_000, from_qty=10, **facts)
    SupplierPrice.objects.create(supplier=firm, length_nm=12 * FT, price_minor=6_000, **facts)
    form = forms(desk.get(f"/rack/plans/new/{steel.code}"))[0]
    assert form.fields["buy"] == "20 ft at 98.00, 12 ft at 60.00"
    answer = desk.post(f"/rack/plans/new/{steel.code}", {**form.fields, "other": "14 in", "count_other": "3"})
    assert answer.status_code == 302, plain(answer)
    assert CutPlan.objects.get().buyable == [
        {"nm": 20 * FT, "price_minor": 9_800, "typed": "20 ft"},
        {"nm": 12 * FT, "price_minor": 6_000, "typed": "12 ft"},
    ]


def test_a_metric_length_that_the_page_filled_in_is_read_back(desk: Client, firm: Supplier, steel: Item) -> None:
    facts = {"item": steel, "noted_on": AT.date()}
    SupplierPrice.objects.create(supplier=firm, length_nm=6 * 10**9, price_minor=9_800, **facts)
    form = forms(desk.get(f"/rack/plans/new/{steel.code}"))[0]
    assert form.fields["buy"] == "6 000 mm at 98.00"
    typed = {"other": "14 in", "count_other": "3"}
    for space in (" ", "\u2009", "\u202f", "\u00a0"):
        fields = {**form.fields, **typed, "buy": form.fields["buy"].replace(" ", space, 1), "request_key": ""}
        answer = desk.post(f"/rack/plans/new/{steel.code}", fields)
        assert answer.status_code == 302, plain(answer)
    assert {str(one.buyable) for one in CutPlan.objects.all()} == {
        str([{"nm": 6 * 10**9, "price_minor": 9_800, "typed": "6 000 mm"}])
    }


@pytest.mark.parametrize(("what", "said"), [("dropped", "is dropped"), ("other", "no line orders that")])
def test_an_order_names_no_plan_that_does_not_want_its_bars(desk: Client, steel: Item, what: str, said: str) -> None:
    steel.refresh_from_db()
    plan = planned(steel)
    if what == "dropped":
        with transaction.atomic():
            cut_plans.drop(plan.number, version=None, at=AT, by=actor())
    form = forms(desk.get("/door/order"))[0]
    code = steel.code if what == "dropped" else "HD-14"
    typed = {"supplier": "Invented Steel", "item_0": code, "qty_0": "1 @ 20 ft" if what == "dropped" else "3 pieces"}
    answer = desk.post("/door/order", {**form.fields, **typed, "plan": str(plan.number)})
    assert said in plain(answer)
    assert not PurchaseOrder.objects.exists()


def test_a_hand_reads_why_so_many_without_what_tells_of_money(firm: Supplier) -> None:
    item = Item.objects.get(code="HD-14")
    Item.objects.filter(pk=item.pk).update(supplier=firm, reorder_point=24)
    SupplierPrice.objects.create(supplier=firm, item=item, price_minor=6_000, noted_on=AT.date())
    Shop.objects.update(spend_minor=6_500)
    told = {role: text(client_of(role).get("/item/HD-14/lasts")) for role in ("desk", "hand")}
    assert "65.00 USD of the money for buying" in told["desk"]
    assert "USD" not in told["hand"]
    assert all("up to the point" in one for one in told.values())

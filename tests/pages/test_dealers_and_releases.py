"""Windows, minimums, what is still owed, shares and releases as a browser without script sees them."""

import datetime as dt

import pytest
from django.http import HttpResponse
from django.test import Client

from orders.models import Customer, Order, OrderLine, Release, Shipment
from orders.services import customers, releases
from orders.services.ordering import Terms
from shop.shared import clock
from shop.shared.models import AuditLine, Shop
from tests import makers
from tests.makers import Tool
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")
SLIP = {"customer": "Tarn and Thrupp", "item_0": "CP-2", "qty_0": "3", "ship_to": "4 Weir Row, Saltby"}
DAY = dt.timedelta(days=1)


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def desk(shop: Shop) -> Client:
    return client_of("desk")


@pytest.fixture
def tool(shop: Shop) -> Tool:
    made = makers.make_tool(code="CP-2", name="Cross peen 2 lb", shipped_mass_mg=1_400_000, retail_minor=4_500)
    makers.put_in(made.item, 5)
    return made


@pytest.fixture
def dealer(shop: Shop) -> Customer:
    return makers.make_customer("Tarn and Thrupp", kind="dealer")


def push(client: Client, page: str, button: tuple[str, str], place: int = 0, **typed: str) -> HttpResponse:
    """Open a page, fill in one of its forms and send it by one of its buttons."""
    form = forms(client.get(page))[place]
    return client.post(page, {**form.fields, **typed, button[0]: button[1]})


def agree(dealer: Customer, **facts: object) -> None:
    with makers.transaction.atomic():
        customers.change(dealer, at=makers.AT, by=makers.actor(), **facts)


def today() -> dt.date:
    return clock.local_date(clock.now(), "UTC")


def on(day: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


# ---- what is agreed


def test_the_minimum_and_whole_orders_are_written_with_the_customer(desk, dealer) -> None:
    address = f"/counter/customers/{dealer.pk}"
    page = forms(desk.get(address))[0]
    assert (page.fields["minimum_minor"], page.fields["takes_parts"]) == ("", "on")
    answer = press(desk, address, minimum_minor="250.00", takes_parts="")
    assert answer.status_code == 302, text(answer)
    dealer.refresh_from_db()
    assert (dealer.minimum_minor, dealer.takes_parts) == (25_000, False)
    assert forms(desk.get(address))[0].fields["minimum_minor"] == "250.00"
    assert "250.00 USD or more, only whole" in text(desk.get("/counter/customers"))
    press(desk, address, minimum_minor="")
    dealer.refresh_from_db()
    assert dealer.minimum_minor == 0


def test_an_order_under_the_minimum_is_refused_beside_its_tick_and_taken_with_it(desk, tool, dealer) -> None:
    agree(dealer, minimum_minor=25_000)
    answer = press(desk, "/counter/take", **SLIP, reference="keep me")
    assert answer.status_code == 409
    assert "It is 115.00 USD short; tick this to take it all the same." in text(answer)
    assert forms(answer)[0].fields["reference"] == "keep me"
    assert not Order.objects.exists()
    answer = press(desk, "/counter/take", **SLIP, below_minimum="on")
    assert answer.status_code == 302, text(answer)
    assert AuditLine.objects.filter(action="taken under the minimum").count() == 1
    page = text(desk.get(f"/order/{Order.objects.get().number}"))
    assert "Taken although it comes to less than this customer’s orders come to." in page


# ---- the window


def test_a_window_is_taken_shown_and_changed(desk, tool, dealer) -> None:
    first, last = today() + 5 * DAY, today() + 9 * DAY
    window = {"not_before": str(first), "not_after": str(last)}
    assert press(desk, "/counter/take", **SLIP, **window).status_code == 302
    order = Order.objects.get()
    page = text(desk.get(f"/order/{order.number}")).replace("\u00a0", " ")
    assert f"Wanted not before {on(first)}, not after {on(last)} ." in page
    assert f"all set aside, not before {on(first)}" in text(desk.get("/counter"))
    sheet = text(desk.get("/"))
    assert f"not before {on(first)}, order {order.number}" in sheet
    assert f"Pack {order.number}" not in sheet
    answer = press(desk, f"/order/{order.number}/change", not_after=str(first - DAY))
    assert answer.status_code == 422
    assert "lies before its first day" in text(answer)
    assert press(desk, f"/order/{order.number}/change", not_before="", not_after="").status_code == 302
    order.refresh_from_db()
    assert (order.not_before, order.not_after) == (None, None)
    assert "Changed: the first day of the window, the last day of the window." in text(
        desk.get(f"/order/{order.number}")
    )
    assert f"Pack {order.number}" in text(desk.get("/"))


def test_a_day_outside_the_window_is_refused_when_an_order_is_taken(desk, tool, dealer) -> None:
    answer = press(desk, "/counter/take", **SLIP, not_before=str(today() + 5 * DAY), day_given=str(today() + DAY))
    assert answer.status_code == 422
    assert "lies outside what order" in text(answer)


def test_before_the_window_a_parcel_goes_only_with_the_tick(desk, tool) -> None:
    order = makers.make_order({tool.item: 2}, at=clock.now(), terms=Terms(not_before=today() + 5 * DAY))
    address = f"/order/{order.number}/send"
    page = desk.get(address)
    assert f"It is wanted not before {on(today() + 5 * DAY)}." in text(page)
    answer = press(desk, address)
    assert answer.status_code == 409
    assert "tick this to send it all the same" in text(answer)
    assert not Shipment.objects.exists()
    assert press(desk, address, before_window="on").status_code == 302
    assert f"Sent, shipment {Shipment.objects.get().number}, before its window." in text(
        desk.get(f"/order/{order.number}")
    )


def test_after_the_window_the_page_says_so_and_sends(desk, tool) -> None:
    long_ago = Terms(not_after=today() - DAY)
    order = makers.make_order({tool.item: 2}, at=clock.now(), terms=long_ago)
    assert f"Its window ended on {on(today() - DAY)}." in text(desk.get(f"/order/{order.number}/send"))
    assert "The window is over." in text(desk.get(f"/order/{order.number}"))
    assert press(desk, f"/order/{order.number}/send").status_code == 302


def test_what_a_customer_who_takes_no_parts_lacks_is_named_before_anything_is_sent(desk, tool, dealer) -> None:
    agree(dealer, takes_parts=False)
    order = makers.make_order({tool.item: 7}, customer=dealer, at=clock.now())
    address = f"/order/{order.number}/send"
    assert "Tarn and Thrupp takes no parts, and 2 × Cross peen 2 lb are missing." in text(desk.get(address))
    answer = press(desk, address)
    assert answer.status_code == 409
    assert "2 of line 1 would be missing" in text(answer)
    assert "takes no parts: it goes whole" in text(desk.get(f"/order/{order.number}"))


# ---- still owed


def test_still_owed_is_a_page_and_a_table_for_everybody_and_for_one(desk, tool, dealer) -> None:
    terms = Terms(day_given=today() - DAY)
    order = makers.make_order({tool.item: 7}, customer=dealer, at=clock.now(), terms=terms)
    makers.make_order({tool.item: 1}, at=clock.now())
    page = text(desk.get("/counter/owed"))
    assert "2 lines of 2 orders. The day given has passed for 1 of them." in page
    assert "1 line of 1 order." in text(desk.get("/counter/owed?kind=dealer"))
    own = text(desk.get(f"/counter/customers/{dealer.pk}/owed"))
    assert "Still owed to Tarn and Thrupp" in own
    assert str(order.number) in own
    table = desk.get(f"/counter/customers/{dealer.pk}/owed.csv")
    assert table["Content-Type"].startswith("text/csv")
    assert len(table.content.decode().splitlines()) == 2
    assert len(desk.get("/counter/owed.csv").content.decode().splitlines()) == 3
    assert desk.get("/counter/customers/999999/owed").status_code == 404
    assert desk.get("/counter/customers/999999/owed.csv").status_code == 404


# ---- shares


@pytest.fixture
def lines(tool: Tool) -> list[OrderLine]:
    """Five are there; six are wanted for a late day and four for an early one."""
    late = makers.make_order({tool.item: 6}, at=clock.now(), terms=Terms(day_given=today() + 9 * DAY))
    soon = makers.make_order({tool.item: 4}, at=clock.now(), terms=Terms(day_given=today() + 2 * DAY))
    return [makers.line_of(late), makers.line_of(soon)]


def reserved(lines: list[OrderLine]) -> list[int]:
    return [OrderLine.objects.get(pk=line.pk).reserved for line in lines]


def test_what_would_move_is_shown_before_anything_is_booked_and_the_loser_is_named(desk, lines) -> None:
    assert "Cross peen 2 lb" in text(desk.get("/counter/shares"))
    page = desk.get("/counter/shares/CP-2")
    assert "10 are wanted and 5 can be shared" in text(page)
    assert ("book", "1") not in forms(page)[0].buttons
    looked = push(desk, "/counter/shares/CP-2", ("look", "1"), rule="by date given")
    assert "loses 4" in text(looked)
    assert reserved(lines) == [5, 0], "a look books nothing"
    fields = {**forms(looked)[0].fields, "book": "1"}
    answer = desk.post("/counter/shares/CP-2", fields)
    assert answer.status_code == 302, text(answer)
    said = text(desk.get(answer["Location"]))
    assert "4 taken from line 1 when there were too few for all, shared by date given." in text(
        desk.get(f"/order/{lines[0].order.number}")
    )
    assert f"Taken away: 4 of order {lines[0].order.number}; those lines wait again at their old place." in said
    assert reserved(lines) == [1, 4]


def test_shares_that_were_not_looked_at_or_are_others_by_now_are_refused(desk, lines, tool) -> None:
    answer = push(desk, "/counter/shares/CP-2", ("book", "1"))
    assert answer.status_code == 412
    assert "look first" in text(answer)
    looked = push(desk, "/counter/shares/CP-2", ("look", "1"), rule="proportional")
    makers.put_in(tool.item, 1, at=clock.now())
    answer = desk.post("/counter/shares/CP-2", {**forms(looked)[0].fields, "book": "1"})
    assert answer.status_code == 412
    assert reserved(lines) == [6, 0]


def test_by_hand_is_filled_in_and_what_does_not_come_to_what_is_there_is_refused(desk, lines) -> None:
    one, other = (f"line_{line.pk}" for line in lines)
    page = forms(desk.get("/counter/shares/CP-2"))[0]
    assert (page.fields[one], page.fields[other]) == ("5", "0")
    typed = {"rule": "by hand", one: "2", other: "2"}
    looked = push(desk, "/counter/shares/CP-2", ("look", "1"), **typed)
    assert looked.status_code == 422
    assert "4 are given out and 5 are there" in text(looked)
    assert forms(looked)[0].fields[one] == "2"
    looked = push(desk, "/counter/shares/CP-2", ("look", "1"), **{**typed, one: "1", other: "4"})
    desk.post("/counter/shares/CP-2", {**forms(looked)[0].fields, "book": "1"})
    assert reserved(lines) == [1, 4]


def test_an_item_of_which_there_is_enough_has_nothing_to_share(desk, tool) -> None:
    assert "No open order wants it." in text(desk.get("/counter/shares/CP-2"))
    assert "either enough or nothing to share" in text(desk.get("/counter/shares"))
    assert desk.get("/counter/shares/NONE").status_code == 404


# ---- releases


@pytest.fixture
def release(tool: Tool) -> Release:
    now = clock.now()
    with makers.transaction.atomic():
        return releases.begin("Friday", tool.item, 4, opens_at=now, closes_at=None, at=now, by=makers.actor())


def test_a_release_is_begun_at_the_counter(desk, tool) -> None:
    typed = {"name": "Friday", "item": "CP-2", "qty": "7", "opens_at": f"{today() + DAY}T10:00"}
    answer = press(desk, "/counter/releases", **typed)
    assert answer.status_code == 302, text(answer)
    page = text(desk.get(answer["Location"]))
    assert "5 are set aside for the release Friday, 2 wait in the queue." in page
    assert "Friday" in text(desk.get("/counter/releases"))
    assert "Paste orders" not in page, "it is not open yet"
    wrong = press(desk, "/counter/releases", **{**typed, "closes_at": f"{today() + DAY}T09:00"})
    assert wrong.status_code == 422
    assert "close before it opens" in text(wrong)
    assert forms(wrong)[0].fields["name"] == "Friday"


def test_a_release_that_opens_today_stands_on_the_day_sheet(desk, tool) -> None:
    with clock.frozen(clock.at_local(today(), 9, "UTC")):
        at = clock.now()
        with makers.transaction.atomic():
            releases.begin(
                "Early", tool.item, 2, opens_at=at + dt.timedelta(hours=2), closes_at=None, at=at, by=makers.actor()
            )
            releases.begin("Later", tool.item, 1, opens_at=at + 2 * DAY, closes_at=None, at=at, by=makers.actor())
        page = text(desk.get("/"))
    assert "for the release Early, opens at" in page
    assert "Later" not in page


def test_pasted_orders_are_taken_all_together(desk, tool, release) -> None:
    address = f"/counter/releases/{release.pk}/orders"
    assert "name; e-mail; address; how many" in text(desk.get(address))
    pasted = "R. Wold; wold@example.org; 4 Weir Row, Saltby; 2\n\nA. Ousby; ; 5 Weir Row; 1\n"
    answer = press(desk, address, pasted=pasted)
    assert answer.status_code == 302, text(answer)
    assert [order.customer.name for order in Order.objects.exclude(source="release").order_by("number")] == [
        "R. Wold",
        "A. Ousby",
    ]
    page = text(follow(desk, answer))
    assert "2 orders are taken out of the release Friday." in page
    assert "R. Wold" in page
    order = Order.objects.get(customer__name="R. Wold")
    page = text(desk.get(f"/order/{order.number}"))
    assert "Taken out of the release Friday" in page
    assert f"Taken with 1 line, out of release {release.pk}." in page


def test_each_bad_line_gets_its_sentence_nothing_is_booked_and_the_paste_comes_back(desk, release) -> None:
    bad = ["R. Wold; 4 Weir Row; 1", "; wold@example.org; 4 Weir Row; 1", "R. Wold; wold at example; 4 Weir Row; 1"]
    bad += ["R. Wold; wold@example.org; ; 1", "R. Wold; wold@example.org; 4 Weir Row; a few"]
    pasted = "\n".join(["R. Wold; wold@example.org; 4 Weir Row; 1", *bad])
    answer = press(desk, f"/counter/releases/{release.pk}/orders", pasted=pasted)
    assert answer.status_code == 422
    said = text(answer)
    for sentence in (
        "Line 2: 3 parts are written; four with semicolons between would work",
        "Line 3: The name is missing",
        "Line 4: The second part is no e-mail address",
        "Line 5: The address is missing",
        "Line 6:",
    ):
        assert sentence in said
    assert "Line 1:" not in said
    assert forms(answer)[0].fields["pasted"].replace("\r\n", "\n") == pasted
    assert Order.objects.exclude(source="release").count() == 0
    many = "\n".join(["R. Wold; wold@example.org; 4 Weir Row; 3"] * 2)
    short = press(desk, f"/counter/releases/{release.pk}/orders", pasted=many)
    assert short.status_code == 422
    assert "Line 2: 3 wanted and 1 of the release Friday left for it" in text(short)


def test_a_release_is_changed_and_ended(desk, release) -> None:
    address = f"/counter/releases/{release.pk}"
    answer = push(desk, address, ("what", "moments"), name="Saturday", closes_at="2199-01-01T10:00")
    assert answer.status_code == 302, text(answer)
    release.refresh_from_db()
    assert (release.name, release.closes_at.year) == ("Saturday", 2199)
    unticked = push(desk, address, ("what", "end"), 1)
    assert unticked.status_code == 422
    answer = push(desk, address, ("what", "end"), 1, end="on")
    assert answer.status_code == 302, text(answer)
    page = text(follow(desk, answer))
    assert "is ended; what was left goes to those who wait" in page
    assert forms(desk.get(address)) == [], "nothing is to be done any more"
    assert desk.get("/counter/releases/999999").status_code == 404


def test_the_shops_own_order_says_what_it_is_and_is_not_sent(desk, release) -> None:
    page = text(desk.get(f"/order/{release.order.number}"))
    assert "It keeps the pieces of the release Friday ." in page
    assert "Send" not in page.split("So far")[1].split("What")[0]
    assert f"/order/{release.order.number}" not in desk.get("/counter?every=on").content.decode()
    assert "Releases of the shop" not in text(desk.get("/counter/customers"))
    assert "Releases of the shop" not in text(desk.get("/counter/take"))

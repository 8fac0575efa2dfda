"""Every form of the Counter, the Shelf and the Book, with what nobody should type: a sentence, nothing changed, no 5xx."""

import datetime as dt
import re

import pytest
from django.test import Client

from inventory.models import Bottle, Entry, Item, ItemStock, StockCount, StockCountLine
from inventory.queries import count_sheets
from inventory.services import bottles
from inventory.services import count_sheets as sheets
from orders.models import Customer, Hold, Order, OrderLine, Release, Return, Shipment
from orders.services import queueing, releases
from orders.services.ordering import Terms
from shop.flows.ship_days import asking
from shop.flows.ship_days.asking import Asked
from shop.shared import clock, shop_row
from shop.shared.models import AuditLine
from tests import makers
from tests.conftest import LONG
from tests.pages.pressing import ODD, forms
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("postgresql")

PAGES = (
    "/counter/ask",
    "/counter/asked/{question}",
    "/counter/asked/{of_order}",
    "/order/{said}/confirm",
    "/order/{said}/let-go",
    "/counter/take",
    "/counter/holds",
    "/counter/holds/{hold}",
    "/counter/holds/{hold}/order",
    "/counter/customers/new",
    "/counter/customers/{customer}",
    "/counter/returns/{back}",
    "/counter/shares/SHORT",
    "/counter/releases",
    "/counter/releases/{release}",
    "/counter/releases/{release}/orders",
    "/order/{order}/change",
    "/order/{order}/add",
    "/order/{order}/money",
    "/order/{order}/day",
    "/order/{order}/cancel",
    "/order/{order}/line/1",
    "/order/{order}/send",
    "/order/{order}/queue?before=all",
    "/order/{order}/notice",
    "/order/{order}/notice/{notice}",
    "/order/{order}/notice/{notice}/refund",
    "/shipment/{shipment}/back",
    "/item/CP-2",
    "/item/CP-2/change",
    "/item/CP-2/parts",
    "/item/CP-2/count",
    "/item/CP-2/use",
    "/item/CP-2/scrap",
    "/item/CP-2/take-out",
    "/item/OIL/count",
    "/item/OIL/use",
    "/item/OIL/change",
    "/settings/buying",
    "/settings/letters",
    "/shelf/counts",
    "/shelf/counts/{sheet}",
    "/shelf/counts/{sheet}/1",
    "/shelf/bottles/new",
    "/shelf/bottles/{bottle}",
    "/shelf/how-long",
    "/shelf/new",
    "/shelf/out/{out}",
    "/book/line/{entry}",
)
IN_EACH_FIELD = ("", "a\x00b", "-1", "99999999999999999999999999999999", "12 lb", "🔨" * 200, "9999-12-31T23:59")
"""Tried in one field at a time, the others filled in; every odd value is tried in all fields at once.

The usual run tries one of them in each field, another in the next; --long all.
"""
REPEATED = re.compile(r"(item|qty|price|whole)_[1-9]")
"""The second and later lines of a slip are read by the very fields of the first."""
SEEKING = {
    "/counter": ("find", "every", "before"),
    "/counter/customers": ("find",),
    "/counter/owed": ("kind",),
    "/counter/owed.csv": ("kind",),
    "/counter/holds": ("item",),
    "/order/1/notice": ("day",),
    "/order/1/queue": ("before",),
    "/counter/last-day": ("item", "qty", "kind", "by_1", "by_2", "by_3"),
    "/shelf": ("find", "every"),
    "/book": ("item", "lot", "kind", "day", "before"),
    "/book/trace": ("of",),
}
COUNTED = (
    Bottle,
    StockCount,
    StockCountLine,
    Entry,
    Release,
    Order,
    OrderLine,
    Hold,
    Customer,
    Shipment,
    Return,
    Item,
    AuditLine,
)


@pytest.fixture
def shop_in_work(db: None) -> dict[str, int | str]:
    """A shop with one of everything that a form can be about; returns the numbers in the addresses."""
    make_shop()
    tool = makers.make_tool(code="CP-2", name="Cross peen 2 lb", shipped_mass_mg=1_400_000)
    makers.put_in(tool.item, 9)
    makers.put_in_parts(tool, 5, 5, 20)
    oil = makers.make_item(Item.Kind.CONSUMABLE, code="OIL", unit=Item.Unit.UL)
    makers.put_in(oil, 5_000_000)
    makers.put_in(tool.head, 40, place="FLOOR", step=1)
    now = clock.now()
    order = makers.make_order({tool.item: 3}, at=now)
    sent = makers.make_order({tool.item: 2}, at=now)
    shipment = makers.send(sent, at=now)
    from orders.services import notices, returning
    from shop.flows import taking_out

    with makers.transaction.atomic():
        back = returning.come_back(shipment, 1, 1, why="loose", stamp=makers.stamp(at=now))
    with makers.transaction.atomic():
        out = taking_out.take_out(tool.item, 1, "show", stamp=makers.stamp(at=now))
    short = makers.make_item(code="SHORT")
    makers.put_in(short, 3)
    makers.make_order({short: 2}, at=now)
    makers.make_order({short: 4}, at=now, terms=Terms(not_before=now.date() + dt.timedelta(days=9)))
    with makers.transaction.atomic():
        release = releases.begin("Friday", tool.item, 2, opens_at=now, closes_at=None, at=now, by=makers.actor())
    with makers.transaction.atomic():
        told = notices.Told("by e-mail", "Later than we said.")
        notice = notices.write(order, told, promise=None, today=now.date(), at=now, by=makers.actor())
    question = asking.ask(Asked(((tool.item, 2),)), at=now, by=makers.actor())
    of_order = asking.ask_for(order, at=now, by=makers.actor())
    spoken = makers.make_order({tool.item: 1}, at=now)
    with makers.transaction.atomic():
        queueing.say_until(spoken, now.date() + dt.timedelta(days=3), at=now, by=makers.actor())
    gas = makers.make_item(Item.Kind.CONSUMABLE, code="GAS", unit="mg", buy_unit="bottle", issue_per_buy=18_000_000)
    makers.put_in(gas, 18_000_000)
    with makers.transaction.atomic():
        (bottle,) = bottles.came(gas, ["14"], stamp=makers.stamp(at=now), came_on=now.date())
    with makers.transaction.atomic():
        shop_row.set_recipients([("A", "a@example.org")], at=now, by="tests")
    with makers.transaction.atomic():
        stands = count_sheets.of_items(["OIL", "CP-2"])
        sheet = sheets.open_sheet("the week's", stands, stamp=makers.stamp(at=now))
    hold = makers.make_phone_hold(tool.item, 1, at=now, until=now + dt.timedelta(days=3))
    return {
        "order": order.number,
        "question": question.pk,
        "of_order": of_order.pk,
        "said": spoken.number,
        "customer": order.customer_id,
        "shipment": shipment.number,
        "back": back.number,
        "hold": hold.pk,
        "bottle": bottle.pk,
        "sheet": sheet.number,
        "release": release.pk,
        "notice": notice.pk,
        "out": out.pk,
        "head": tool.head.code,
        "entry": tool.handle.lots.get().entry_id,
    }


def counted() -> tuple[object, ...]:
    stock = tuple(ItemStock.objects.order_by("pk").values_list("sellable", "allocated", "waiting"))
    return (*(model.objects.count() for model in COUNTED), stock)


@pytest.mark.parametrize("pattern", PAGES)
def test_no_form_breaks_over_what_is_typed(shop_in_work: dict[str, int | str], pattern: str) -> None:
    client: Client = client_of("owner")
    address = pattern.format(**shop_in_work)
    found = forms(client.get(address))
    assert found, f"{address} has no form: take it off the list"
    for form in found:
        names = [name for name in form.typed if not REPEATED.fullmatch(name)]
        tries = [
            {name: odd}
            for place, name in enumerate(names)
            for odd in (IN_EACH_FIELD if LONG else IN_EACH_FIELD[place % 7 :: 7])
        ]
        tries += [dict.fromkeys(names, odd) for odd in (ODD if LONG else ODD[len(names) % 5 :: 5])]
        before = counted()
        for typed in tries:
            answer = client.post(address, {**form.fields, **dict(form.buttons[-1:]), **typed, "request_key": ""})
            said = f"{address} with {str(typed)[:80]}"
            assert answer.status_code in {200, 302, 404, 409, 412, 422}, f"{said}: {answer.status_code}"
            if answer.status_code not in {200, 302, 404}:
                assert counted() == before, f"{said} was refused and changed something"
                assert "Nothing has been written down yet." in answer.content.decode(), said
            else:
                before = counted()  # it may have been a value that can be used after all


@pytest.mark.parametrize("address", list(SEEKING))
def test_no_search_breaks_over_what_is_typed(shop_in_work: dict[str, int | str], address: str) -> None:
    client = client_of("owner")
    for place, name in enumerate(SEEKING[address]):
        for odd in ODD if LONG else ODD[place % 3 :: 3]:
            answer = client.get(address, {name: odd})
            assert answer.status_code in {200, 302, 422}, f"{address}?{name}={odd[:20]!r}: {answer.status_code}"


@pytest.mark.parametrize("number", ["0", "00", "-1", "999999999", "9999999999999999999", "1e5", "%00", "x"])
def test_no_address_breaks_over_a_number(shop_in_work: dict[str, int | str], number: str) -> None:
    client = client_of("owner")
    for start in (
        "/order/",
        "/shipment/",
        "/counter/asked/",
        "/counter/holds/",
        "/counter/customers/",
        "/counter/releases/",
        "/counter/shares/",
        "/book/line/",
        "/book/lot/",
        "/item/",
    ):
        assert client.get(start + number).status_code == 404, start + number

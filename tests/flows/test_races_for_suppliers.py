"""Two desks at one purchase order: it is sent once, and never changed behind a letter that has gone."""

from collections.abc import Callable

import pytest

from inventory.models import Item, PurchaseOrder
from inventory.queries import deliveries
from inventory.services import purchase_changes, purchasing
from inventory.services.purchase_changes import AlreadySent
from inventory.services.purchasing import ToBuy
from shop.flows import checking, purchase_sending
from shop.shared import transactions
from shop.shared.errors import Stale
from shop.shared.models import AuditLine, Message
from tests import makers
from tests.flows.test_races_at_the_door import CLIENTS, at_once
from tests.makers import AT, actor
from tests.people import make_shop

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def order(transactional_db: None) -> PurchaseOrder:
    make_shop()
    handles = makers.make_item(Item.Kind.HANDLE, code="HD-14")
    with transactions.entry_point():
        firm = purchasing.add_supplier("Invented Handles", email="orders@handles.example", at=AT, by=actor())
        return purchasing.open_order(firm, [ToBuy(handles, "36")], ordered_on=AT.date(), at=AT, by=actor())


def sender(order: PurchaseOrder, to: str) -> Callable[[], object]:
    def send() -> object:
        found = deliveries.order(order.number)
        assert found is not None
        return purchase_sending.send(found, "e-mail", version=1, at=AT, by=actor(), to=to)

    return send


def changer(order: PurchaseOrder, many: str) -> Callable[[], object]:
    def change() -> object:
        found = deliveries.order(order.number)
        assert found is not None
        lines = [ToBuy(Item.objects.get(code="HD-14"), many)]
        return purchase_changes.change(found, lines, wanted_on=None, note="", version=1, at=AT, by=actor())

    return change


def test_an_order_that_many_desks_send_at_once_goes_once(order: PurchaseOrder) -> None:
    came = at_once([sender(order, f"desk{n}@handles.example") for n in range(CLIENTS)])
    assert came["done"] == 1
    assert came["done"] + came[Stale.code] == CLIENTS
    order.refresh_from_db()
    assert [one.recipient for one in Message.objects.all()] == [order.sent_to]
    assert AuditLine.objects.filter(action="purchase order sent").count() == 1


def test_an_order_is_changed_or_sent_and_the_letter_says_what_the_book_says(order: PurchaseOrder) -> None:
    actions = [
        sender(order, f"desk{n}@handles.example") if n % 2 else changer(order, str(48 + n)) for n in range(CLIENTS)
    ]
    came = at_once(actions)
    assert came["done"] == 1
    assert set(came) <= {"done", Stale.code, AlreadySent.code}
    order.refresh_from_db()
    (line,) = order.lines.all()
    if order.sent_how:
        assert line.qty == 36
        assert "36 pieces" in Message.objects.get().text
    else:
        assert line.qty >= 48
        assert not Message.objects.exists()
    assert checking.check_book() == []


def test_asked_from_many_desks_at_once_is_one_letter(order: PurchaseOrder) -> None:
    def ask() -> object:
        found = deliveries.order(order.number)
        assert found is not None
        return purchase_sending.ask_where(found, version=1, at=AT, by=actor(), to="orders@handles.example")

    came = at_once([ask] * CLIENTS)
    assert came["done"] == 1
    assert Message.objects.count() == 1

"""An order moved in the queue by a program: who loses first, then the move, each refusal with its field."""

from collections.abc import Iterator

import pytest

from orders.models import Order
from orders.queries import in_queue
from shop.flows import checking
from shop.shared import clock
from shop.shared.models import AuditLine
from tests import makers
from tests.api.asking import Program, data, problem
from tests.flows.test_queue import promised
from tests.flows.test_ship_days import slow_forge
from tests.makers import AT
from tests.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program(db: None) -> Iterator[Program]:
    with clock.frozen(AT):
        made = Program()
        make_person("owner", login="ada")
        make_person("hand", login="bo")
        yield made
        assert checking.check_book(whole=True) == []


@pytest.fixture
def orders(program: Program) -> tuple[Order, Order, Order]:
    item = slow_forge().tool.item
    return promised(item, 6), promised(item, 6), promised(item, 18)


def test_who_loses_is_read_and_the_move_made_once(program: Program, orders: tuple[Order, Order, Order]) -> None:
    first, second, third = orders
    address = f"orders/{third.number}/queue"
    found = data(program.get(f"{address}?before={first.number}"))
    assert [one["order"] for one in found["rows"]] == [first.number, second.number, third.number]
    assert [one["order"] for one in found["rows"] if one["loses"]] == [first.number, second.number]
    body = {"before": first.number, "seen": found["seen"], "reason": "a fair"}
    moved = data(program.post(address, body, key="moved-once-and-again"))
    assert moved["number"] == third.number
    again = program.post(address, body, key="moved-once-and-again")
    assert again["Idempotency-Replayed"] == "true"
    assert [one.order for one in in_queue.standing()] == [third, first, second]
    line = AuditLine.objects.get(action="moved in the queue")
    assert (line.reason, line.after) == ("a fair", {"before": first.number})


def test_a_shop_that_has_changed_and_places_that_are_none(program: Program, orders: tuple[Order, Order, Order]) -> None:
    first, _, third = orders
    address = f"orders/{third.number}/queue"
    seen = data(program.get(f"{address}?before={first.number}"))["seen"]
    for before in (None, third.number, 999_999):
        asked = address if before is None else f"{address}?before={before}"
        problem(program.get(asked), 422)
        body = {"seen": seen, "reason": "a fair"} | ({} if before is None else {"before": before})
        assert [one["pointer"] for one in problem(program.post(address, body), 422)["errors"]] == ["/before"]
    makers.make_order({third.lines.get().item: 1})
    stale = problem(program.post(address, {"before": first.number, "seen": seen, "reason": "a fair"}), 409)
    assert stale["type"].endswith("answer_is_stale")
    problem(program.post(address, {"before": first.number, "seen": seen}), 422)
    problem(program.get("orders/999999/queue"), 404)
    assert not AuditLine.objects.filter(action="moved in the queue").exists()


def test_a_key_that_takes_orders_does_not_move_them(orders: tuple[Order, Order, Order]) -> None:
    first, _, third = orders
    shy = Program("orders:read", "orders:write")
    address = f"orders/{third.number}/queue"
    seen = data(shy.get(f"{address}?before={first.number}"))["seen"]
    refused = shy.post(address, {"before": first.number, "seen": seen, "reason": "a fair"})
    assert problem(refused, 403)["needed_scope"] == "queue:write"

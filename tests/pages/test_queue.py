"""The queue as a page: looked at by the desk, moved in by the owner alone, odd places answered."""

from collections.abc import Iterator

import pytest
from django.test import Client

from inventory.models import Item
from orders.models import Order
from orders.queries import in_queue
from shop.flows.ship_days import rating
from shop.shared import clock
from shop.shared.models import AuditLine
from tests import makers
from tests.flows.test_queue import promised
from tests.flows.test_ship_days import slow_forge
from tests.makers import AT
from tests.pages.pressing import follow, forms, text
from tests.people import client_of, make_person, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture(autouse=True)
def _at_the_counter(db: None) -> Iterator[None]:
    make_shop()
    make_person("hand", login="bo")
    with clock.frozen(AT):
        yield


@pytest.fixture
def orders() -> tuple[Item, Order, Order, Order]:
    item = slow_forge().tool.item
    found = promised(item, 6), promised(item, 6), makers.make_order({item: 12})
    rating.run_if_due(lambda: AT)
    return item, *found


def look(client: Client, order: Order, before: str) -> str:
    answer = client.get(f"/order/{order.number}/queue", {"before": before})
    assert answer.status_code == 200
    return text(answer).replace("\u00a0", " ")


def test_an_empty_queue_says_so() -> None:
    assert "Nothing is owed to anybody." in text(client_of("desk").get("/counter/queue"))


def test_the_queue_stands_in_its_order_with_chances(orders: tuple[Item, Order, Order, Order]) -> None:
    _, first, second, third = orders
    page = client_of("owner").get("/counter/queue").content.decode()
    at = [page.index(f'href="/order/{one.number}"') for one in (first, second, third)]
    assert at == sorted(at)
    said = text(client_of("owner").get("/counter/queue"))
    for one in in_queue.standing()[:2]:
        assert one.chance is not None
        assert f"{round(100 * one.chance)} in 100 90 Move" in said
    assert "12 × " in said
    assert "none Move" in said, "no day is given for the last"


def test_a_hand_sees_neither_page(orders: tuple[Item, Order, Order, Order]) -> None:
    hand = client_of("hand")
    for page in ("/counter/queue", f"/order/{orders[3].number}/queue"):
        assert hand.get(page).status_code == 403
    assert "The queue" not in text(hand.get("/counter"))


def test_the_owner_sees_who_loses_and_moves_it_with_a_reason(orders: tuple[Item, Order, Order, Order]) -> None:
    _, first, second, third = orders
    owner = client_of("owner")
    page = f"/order/{third.number}/queue?before={first.number}"
    said = look(owner, third, str(first.number))
    assert "Who loses" in said
    assert f"No day is given for order {third.number}" in said
    losers = said[said.index("Who loses") : said.index("No day is given")]
    assert f"{first.number} {first.customer.name}" in losers
    assert not AuditLine.objects.filter(action="moved in the queue").exists()
    form = forms(owner.get(page))[0]
    without = owner.post(page, {**form.fields, "reason": ""})
    assert without.status_code == 422
    assert "Who loses" in text(without), "who loses stands there again beside what is missing"
    again = forms(without)[0]
    assert again.fields["before"] == str(first.number)
    answer = owner.post(page, {**again.fields, "reason": "Wanted for a fair."})
    told = text(follow(owner, answer))
    assert f"Order {third.number} stands before order {first.number} now. Dates follow it." in told
    assert [one.order for one in in_queue.standing()] == [third, first, second]
    history = text(owner.get(f"/order/{third.number}"))
    assert f"Moved in the queue before order {first.number}. Wanted for a fair." in history


def test_behind_all_is_said_so_in_the_history(orders: tuple[Item, Order, Order, Order]) -> None:
    _, first, *_ = orders
    owner, page = client_of("owner"), f"/order/{orders[1].number}/queue?before=all"
    form = forms(owner.get(page))[0]
    assert owner.post(page, {**form.fields, "reason": "They can wait."}).status_code == 302
    assert "Moved in the queue behind all. They can wait." in text(owner.get(f"/order/{first.number}"))


def test_the_desk_may_look_and_not_move(orders: tuple[Item, Order, Order, Order]) -> None:
    _, first, _, third = orders
    desk, owner = client_of("desk"), client_of("owner")
    assert "The owner moves orders in the queue." in look(desk, third, str(first.number))
    assert "If it moved" in text(desk.get("/counter/queue"))
    page = f"/order/{third.number}/queue?before={first.number}"
    assert forms(desk.get(page)) == []
    form = forms(owner.get(page))[0]
    assert desk.post(page, {**form.fields, "reason": "mine"}).status_code == 403
    assert not AuditLine.objects.filter(action="moved in the queue").exists()


def test_a_move_nobody_looked_at_or_of_a_shop_that_changed_is_shown_anew(
    orders: tuple[Item, Order, Order, Order],
) -> None:
    item, first, _, third = orders
    owner, page = client_of("owner"), f"/order/{third.number}/queue?before={first.number}"
    form = forms(owner.get(page))[0]
    unseen = owner.post(page, {**form.fields, "seen": "", "reason": "a fair"})
    assert unseen.status_code >= 400
    assert "nobody has looked at who loses" in text(unseen)
    promised(item, 2)
    stale = owner.post(page, {**forms(unseen)[0].fields, "seen": form.fields["seen"], "reason": "a fair"})
    assert stale.status_code == 409
    assert "nothing was moved" in text(stale)
    anew = forms(stale)[0]
    assert anew.fields["seen"] not in ("", form.fields["seen"])
    assert anew.fields["reason"] == "a fair"
    assert owner.post(page, anew.fields).status_code == 302
    assert in_queue.standing()[0].order == third


def test_places_that_are_none_get_a_sentence(orders: tuple[Item, Order, Order, Order]) -> None:
    _, first, second, third = orders
    owner = client_of("owner")
    for order, before, said in (
        (third, "all", "stands behind all already"),
        (first, str(second.number), "stands before order"),
        (third, str(third.number), "not on the list"),
        (third, "999", "not on the list"),
        (third, "", "needed"),
    ):
        answer = owner.get(f"/order/{order.number}/queue", {"before": before})
        assert answer.status_code == 422
        assert said in text(answer)
        assert forms(answer) == [], "there is nothing to move"
        sent = {"before": before, "reason": "a fair", "seen": "looked at"}
        refused = owner.post(f"/order/{order.number}/queue", sent)
        assert refused.status_code == 422
        assert said in text(refused)
    assert owner.get("/order/999/queue").status_code == 404


def test_an_order_alone_or_closed_has_nothing_to_move() -> None:
    item = makers.make_item()
    makers.put_in(item, 3)
    alone, sent = makers.make_order({item: 2}), makers.make_order({item: 1})
    makers.send(sent)
    owner = client_of("owner")
    assert "No other order is in the queue." in text(owner.get(f"/order/{alone.number}/queue"))
    assert "Nothing of it is owed any more" in text(owner.get(f"/order/{sent.number}/queue"))
    assert owner.get(f"/order/{sent.number}/queue?before={alone.number}").status_code in (200, 422)
    assert owner.post(f"/order/{sent.number}/queue", {"before": str(alone.number), "reason": "x"}).status_code < 500

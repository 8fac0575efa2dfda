"""The night's letter by person, what else it says of goods, and the owner's letter of the week, through a real server."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Entry, Item, Lot, PurchaseOrder, PurchaseOrderLine, Supplier
from orders.queries import week_figures
from shop.flows import night
from shop.flows.night import headline, letter, weekly
from shop.shared import shop_row
from shop.shared.mail import outbox
from shop.shared.models import Message, NightResult, Recipient, Shop
from tests import makers
from tests.flows.test_night import (
    DAY,
    SIX,
    TODAY,
    WEEKS_AGO,
    Ticking,
    make_handles,
    make_promised,
    make_shop,
    part,
    run,
)

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


def test_each_person_gets_the_parts_they_want_and_a_headline_about_those():
    make_shop(recipients=("buyer@example.org", "all@example.org", "idle@example.org"))
    Recipient.objects.filter(email="buyer@example.org").update(parts=["order"])
    Recipient.objects.filter(email="idle@example.org").update(parts=["temper"])
    make_handles(lead_days=30)
    make_promised({makers.make_item(Item.Kind.BLANK, name="Other"): 3}, TODAY - DAY)
    body = run(SIX).body
    by_person = {one.recipient: one for one in Message.objects.all()}
    assert by_person["all@example.org"].subject == body["headline"]
    buyer = by_person["buyer@example.org"]
    assert buyer.subject == "Order 16 in handles today"
    assert "Slips" not in buyer.text
    assert "16 in handles" in buyer.text
    assert by_person["idle@example.org"].subject == headline.NOTHING
    assert letter.for_person(body, []) == body


def test_what_runs_dry_before_the_delivery_says_whom_to_ask():
    make_shop()
    supplier = Supplier.objects.create(name="Invented turnery")
    item = makers.make_item(Item.Kind.HANDLE, name="ash handles", supplier=supplier, lead_days=3)
    lot = makers.put_in(item, 60, at=WEEKS_AGO)
    for week in range(6):
        makers.move(lot, 9, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=WEEKS_AGO + (7 * week + 1) * DAY)
    order = PurchaseOrder.objects.create(
        number=77, supplier=supplier, ordered_on=TODAY - 3 * DAY, confirmed_on=TODAY + 12 * DAY
    )
    PurchaseOrderLine.objects.create(order=order, number=1, item=item, qty=400)
    (line,) = part(run(SIX).body, "dry")["lines"]
    assert line["bold"] == "ash handles."
    assert line["words"] == "6 free, 400 on order. Ask for order 77."
    assert line["link"]["path"] == "/door/order/77"


def test_a_certificate_awaited_for_days_is_asked_for():
    make_shop()
    melt = makers.make_melt("0049964")
    melt.certificate_awaited = True
    melt.save(update_fields=["certificate_awaited"])
    makers.put_in(makers.make_item(Item.Kind.BAR), 2 * makers.FOOT_NM, melt=melt, at=WEEKS_AGO)
    (line,) = part(run(SIX).body, "papers")["lines"]
    assert line["bold"] == "1045, mill heat 0049964:"
    assert line["words"] == "certificate not here; one bar of it from nobody known."


def test_a_result_names_every_part_that_a_person_may_choose():
    assert tuple(headline.NAMES) == headline.ORDER
    assert len(set(headline.ORDER)) == len(headline.ORDER)


def test_the_owner_gets_a_letter_of_the_week_on_its_day_and_nobody_else(settings, smtp_server):
    settings.SMTP_HOST, settings.SMTP_PORT = "127.0.0.1", smtp_server.port
    make_shop(recipients=("owner@example.org", "hand@example.org"))
    Recipient.objects.filter(email="owner@example.org").update(weekly=True)
    Shop.objects.update(weekly_day=TODAY.weekday())
    item = makers.make_item(Item.Kind.HANDLE)
    lot = makers.put_in(item, 50, at=WEEKS_AGO, cost_minor=25_000)
    assert Lot.objects.get(pk=lot.pk).cost_minor == 25_000
    order = make_promised({item: 4}, TODAY - 3 * DAY)
    makers.send(order, at=SIX - 4 * DAY)
    make_promised({item: 4}, TODAY - 2 * DAY)
    result = run(SIX)
    week = Message.objects.get(kind=weekly.KIND)
    assert week.recipient == "owner@example.org"
    assert week.subject == "1 of 2 days given was kept; 230.00 USD in stock"
    assert result.body["week"]["parts"][0]["lines"][0]["facts"] == {"given": 2, "kept": 1}
    assert outbox.send_due(Ticking(SIX)) == 3
    people = sorted(got.recipients[0] for got in smtp_server.accepted)
    assert people == ["hand@example.org", "owner@example.org", "owner@example.org"]
    run(SIX + DAY)
    assert Message.objects.filter(kind=weekly.KIND).count() == 1


def test_a_quiet_week_says_so():
    make_shop()
    body = weekly.compute(at=SIX, today=TODAY)
    assert (body["headline"], body["news"]) == ("A quiet week", False)
    assert letter.render(body).text.count("\n") == 1


def test_money_in_stock_is_what_the_lots_on_hand_have_cost_and_says_what_is_unknown():
    make_shop()
    item = makers.make_item(Item.Kind.HANDLE)
    lot = makers.put_in(item, 10, at=WEEKS_AGO, cost_minor=1_000)
    makers.put_in(item, 5, at=WEEKS_AGO)
    makers.move(lot, 3, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=WEEKS_AGO + DAY)
    found = week_figures.stock()
    assert (dict(found.by_kind), found.unknown) == ({"handle": 700}, 1)


def test_the_waste_of_a_week_without_sawing_is_none():
    make_shop()
    assert week_figures.waste(since=SIX - 7 * DAY).of_hundred == 0


def test_the_night_stands_though_nothing_can_be_learned(monkeypatch):
    make_shop()
    make_handles(lead_days=30)
    from orders.services import learning

    def breaks(**_: object) -> None:
        raise RuntimeError("no learning")

    monkeypatch.setattr(learning, "work_out", breaks)
    body = run(SIX).body
    assert part(body, "order")["lines"][0]["bold"] == "16 in handles, Invented turnery."
    assert NightResult.objects.count() == 1
    assert night.latest().body["headline"] == body["headline"]


def test_learning_takes_part_in_no_transaction_of_the_night():
    make_shop()
    with transaction.atomic():
        shop_row.set_recipients([("A", "a@example.org")], at=SIX, by="tests")
    assert run(SIX) is not None
    assert dt.timedelta(0) < DAY


def test_the_week_says_what_counts_found_missing_and_what_it_had_cost():
    make_shop()
    item = makers.make_item(Item.Kind.HANDLE, name="Ash handle")
    lot = makers.put_in(item, 50, at=WEEKS_AGO, cost_minor=25_000)
    makers.move(lot, 8, source="BIN", target="DIFFERENCE", kind=Entry.Kind.COUNT, at=SIX - 2 * DAY)
    makers.move(lot, 2, source="DIFFERENCE", target="BIN", kind=Entry.Kind.COUNT, at=SIX - DAY)
    makers.move(lot, 5, source="BIN", target="DIFFERENCE", kind=Entry.Kind.COUNT, at=SIX - 9 * DAY)
    (line,) = part(weekly.compute(at=SIX, today=TODAY), "missing")["lines"]
    assert (line["figure"], line["bold"]) == ("6", "Ash handle:")
    assert line["words"].startswith("missing when counted")
    assert line["facts"]["quantity"] == 6

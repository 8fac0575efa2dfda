"""Every form of the Door, the Rack and moving in, with what nobody should type: a sentence, nothing changed, no 5xx."""

import datetime as dt

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import (
    Bar,
    Blade,
    Certificate,
    Claim,
    Cut,
    CutPlan,
    CutPlanBar,
    Delivery,
    ElementLimit,
    Entry,
    Item,
    ItemStock,
    LimitRow,
    Lot,
    Melt,
    Place,
    PurchaseOrder,
    PurchaseOrderLine,
    Supplier,
)
from inventory.services import checking_in, purchasing, receiving, saws, steel_items
from inventory.services.cut_asking import Question, Wanted
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchasing import ToBuy
from shop.flows import cut_answering, cut_plans, delivering
from shop.shared.models import AuditLine, Message
from tests import makers
from tests.conftest import LONG
from tests.makers import AT, actor
from tests.pages.pressing import ODD, forms
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("postgresql")

SOON = (dt.datetime.now(tz=dt.UTC) + dt.timedelta(days=30)).date().isoformat()
PAGES = {
    "/door/new": {
        "l0_grade": "1045",
        "l0_shape": "round",
        "l0_size": "2 in",
        "l0_heat_number": "1",
        "l0_bars": "2 @ 20 ft",
    },
    "/door/new/{order}": {"l0_bars": "2 @ 20 ft", "l0_heat_number": "1", "l1_quantity": "3 dozen"},
    "/door/{draft}": {},
    "/door/measure": {},
    "/door/order": {"supplier": "Invented Steel", "item_0": "HD-14", "qty_0": "3 dozen"},
    "/door/order/{order}": {"day": SOON},
    "/door/order/{order}/close": {},
    "/door/order/{order}/change": {"price_0": "98.00"},
    "/door/order/{order}/line/2": {},
    "/door/order/{order}/send": {"how": "e-mail", "to": "orders@steel.example"},
    "/door/order/{order}/asked": {"do": "mail", "to": "orders@steel.example"},
    "/door/suppliers": {"name": "Another firm"},
    "/door/supplier/{firm}/terms": {"freight": "9.00"},
    "/door/supplier/{firm}/prices": {"item": "HD-14", "price": "60.00"},
    "/door/moving-in": {"kind": "stock", "table": "item;quantity\nHD-14;3\n"},
    "/rack/slots": {"code": "Z9", "name": "Z9"},
    "/rack/bar/{bar}/measure": {"length": "20 ft"},
    "/rack/bar/{bar}/length": {"length": "20 ft"},
    "/rack/bar/{bar}/move": {},
    "/rack/bar/{bar}/scrap": {"reason": "bent"},
    "/rack/lot/{lot}/not-to-be-used": {"reason": "bent"},
    "/rack/lot/{lot}/use-again": {"reason": "straight"},
    "/door/{came}/look": {
        "l0_lengths": "2 @ 20 ft",
        "l0_sizes": "2 @ 2.00/2.01",
        "l0_scale": "430 lb",
        "l0_weighed_by": "own scale",
    },
    "/door/{came}/line/1": {"answer": "accepted"},
    "/door/{came}/claim": {"about": "short", "words": "Two bars short."},
    "/door/claim/{claim}": {"sent_on": "2026-03-03"},
    "/rack/bar/{bar}/saw": {"blank": "other", "length": "4 in", "pieces": "3", "left": "18 ft 11 3/4 in"},
    "/rack/bar/{bar}/in-two": {"left": "10 ft + 9 ft 11 15/16 in"},
    "/rack/bar/{bar}/own-tooling": {"length": "1 ft", "left": "18 ft 11 15/16 in"},
    "/rack/bar/{bar}/paint-lost": {"reason": "ground off"},
    "/rack/bar/{bar}/sizes": {"sizes": "2.00/2.01"},
    "/rack/lot/{shut}/scrap": {"reason": "soft"},
    "/rack/melt/{melt}/not-to-be-used": {"reason": "soft"},
    "/rack/grade/{grade}/limits": {"document": "D", "edition": "1", "limits": "C .40-.50 P .040", "source": "a sheet"},
    "/rack/grade/{grade}/density": {"density": "7.84", "source": "a sheet"},
    "/rack/limits/{row}": {},
    "/rack/limits/{row}/drop": {},
    "/rack/melt/{melt}/certificate": {"number": "C-9", "read_by": "HE", "el_C": "0.45"},
    "/rack/melt/{melt}/certificate-awaited": {"awaited": "yes"},
    "/rack/certificate/{paper}/take-back": {"reason": "another heat"},
    "/rack/plans/new/{steel}": {"other": "4 in", "count_other": "3"},
    "/rack/plan/{plan}": {},
    "/rack/plan/{plan}/bar/{planned}": {"left": "1 ft"},
    "/rack/plan/{plan}/bar/{planned}/leave": {},
    "/rack/plans/rules": {},
    "/rack/plans/blade": {"name": "cold saw", "kerf": "2 mm", "measured_on": "2026-03-01"},
    "/rack/plans/blade/{blade}": {},
    "/rack/lot/{lot}/mill-heat": {"heat_number": "2", "reason": "read again"},
}
BUTTON = {"/door/new": "book", "/door/new/{order}": "book", "/door/{draft}": "book", "/door/moving-in": "move"}
SENT_TOO = ("count", "version", "take", "l0_sort", "l0_order_line", "who", "do", "how", "plan", "back")
SEEKING = ("/rack/labels?place=", "/rack/labels?bar=", "/rack/labels?delivery=")
COUNTED = (
    CutPlan,
    Certificate,
    Claim,
    Cut,
    ElementLimit,
    Entry,
    Delivery,
    PurchaseOrder,
    PurchaseOrderLine,
    Supplier,
    Item,
    Lot,
    Bar,
    Melt,
    Place,
    AuditLine,
    Message,
)


@pytest.fixture
def door(db: None) -> dict[str, object]:
    """A shop with one of everything that these forms can be about; returns what stands in the addresses."""
    make_shop()
    item = makers.make_item(Item.Kind.BAR, code="B-1045-RD-2IN", name="1045 round 2 in")
    lot = makers.put_in(item, 6_096_000_000)
    waiting = makers.put_in(item, 6_096_000_000, place="DOOR")
    Bar.objects.filter(pk=waiting.pk).update(measured=False)
    handles = makers.make_item(Item.Kind.HANDLE, code="HD-14", buy_unit="dozen", issue_per_buy=12)
    with transaction.atomic():
        firm = purchasing.add_supplier("Invented Steel", at=AT, by=actor())
        steel = steel_items.bar_item(makers.make_grade(), makers.make_section(), at=AT, by=actor())
        lines = [ToBuy(steel, "5 @ 20 ft"), ToBuy(handles, "3 dozen")]
        order = purchasing.open_order(firm, lines, ordered_on=AT.date(), at=AT, by=actor())
        paper = Paper([PaperLine(sort="goods", item="HD-14", quantity="3")])
        draft = receiving.start(firm, typed=paper, at=AT, by=actor())
        bars = PaperLine(grade="1045", shape="round", size="2 in", heat_number="1", bars="2 @ 20 ft", measured="no")
        came = delivering.receive(firm, Paper([bars]), stamp=makers.stamp()).delivery
        claim = checking_in.claim(came, "short", "One bar short.", at=AT, by=actor())
    paper = makers.file_certificate(lot.melt, C="0.45")
    row = LimitRow.objects.filter(grade__code="1045").first()
    shut = makers.put_in(item, 6_096_000_000, place="NOT-USED")
    plan = _cut_plan()
    return {
        "firm": firm.pk, "order": order.number, "draft": draft.number, "bar": lot.bar.number, "lot": lot.pk, "melt": lot.melt_id,
        "came": came.number, "claim": claim.pk, "shut": shut.pk,
        "paper": paper.pk, "row": row.pk, "grade": row.grade_id,
        "steel": plan.plan.item.code, "plan": plan.plan.number, "planned": plan.bar.number, "blade": plan.plan.blade_id,
    }  # fmt: skip


def _cut_plan() -> CutPlanBar:
    """Take a cut plan of another steel to the saw; return its bar."""
    section = makers.make_section(size_nm=25_400_000, typed="1 in")
    with transaction.atomic():
        steel = steel_items.bar_item(makers.make_grade(), section, at=AT, by=actor())
        blank = steel_items.blank_item(makers.make_grade(), section, 250_000_000, at=AT, by=actor())
        saw = Blade(name="band saw", kerf_nm=1_500_000, measured_on=AT.date())
        blade = saws.save_blade(saw, at=AT, by=actor())
        makers.put_in(steel, 2_000_000_000)
        plan = cut_plans.ask(Question(steel, [Wanted(blank, 3)], 0, blade=blade, seconds=1), at=AT, by=actor())
    cut_answering.work({"plan": plan.pk}, AT)
    with transaction.atomic():
        (bar,) = cut_plans.take(plan.number, 0, version=None, at=AT, by=actor())
    return bar


def counted() -> tuple[object, ...]:
    stock = tuple(ItemStock.objects.order_by("pk").values_list("sellable", "allocated", "waiting"))
    drafts = tuple(Delivery.objects.order_by("pk").values_list("version", "state"))
    ordered = tuple(PurchaseOrder.objects.order_by("pk").values_list("version", "sent_to", "asked_on"))
    return (*(model.objects.count() for model in COUNTED), stock, drafts, ordered)


@pytest.mark.parametrize("sheet", PAGES)
def test_no_form_breaks_over_what_is_typed(door: dict[str, object], sheet: str) -> None:
    client: Client = client_of("owner")
    address = sheet.format(**door)
    found = forms(client.get(address))
    assert found, f"{address} has no form: take it off the list"
    form = found[0]
    usual = {**form.fields, **PAGES[sheet], **({"do": BUTTON[sheet]} if sheet in BUTTON else {})}
    for place, name in enumerate(dict.fromkeys([*form.typed, *SENT_TOO])):
        # The usual run tries one or two odd values in each field, others in the next; --long all.
        for odd in ODD if LONG else ODD[place % 14 :: 14]:
            before = counted()
            answer = client.post(address, {**usual, name: odd, "request_key": ""})
            said = f"{address} with {name}={odd[:20]!r}"
            assert answer.status_code in {200, 302, 404, 409, 412, 422}, f"{said}: {answer.status_code}"
            if answer.status_code not in {200, 302, 404}:
                assert counted() == before, f"{said} was refused and changed something"
                assert "Nothing has been written down yet." in answer.content.decode(), said


@pytest.mark.parametrize("start", SEEKING)
def test_no_label_breaks_over_what_is_asked(door: dict[str, object], start: str) -> None:
    client = client_of("hand")
    page, name = start.removesuffix("=").split("?")
    for odd in ODD:
        assert client.get(page, {name: odd}).status_code in {200, 404}, odd[:20]


@pytest.mark.parametrize("number", ["0", "-1", "999999999", "9999999999999999999", "1e5", "%00", "x", "O0", "ZZZZZ"])
def test_no_address_breaks_over_a_number(door: dict[str, object], number: str) -> None:
    client = client_of("owner")
    for start in ("/door/", "/door/new/", "/door/order/", "/rack/bar/", "/rack/slot/"):
        assert client.get(start + number).status_code == 404, start + number
    assert client.get(f"/rack/lot/{number}/mill-heat").status_code == 404

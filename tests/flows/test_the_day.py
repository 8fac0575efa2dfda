"""One day of the shop on real parts: a delivery comes in, an order sets it aside, it ships, the night writes its e-mail.

Once through the pages in a real browser and once as a program through the API, each on the embedded default and on
PostgreSQL, with the Celery worker, a broker and an SMTP server running.
"""

import json
import re
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable
from typing import Any

import pytest

from tests.servers import MailServer, Service, wait_until

DATABASES = ("sqlite", "postgres")
PASSWORD = "tongs above the slack tub"

# The shop as it stands in the morning: heads on the shelf, no handles, six dozen on order, the night's hour long past.
MORNING = f"""
import datetime as dt
from django.db import transaction
from inventory.models import Item
from inventory.services import purchasing
from inventory.services.purchasing import ToBuy
from shop.shared import clock, shop_row
from tests import makers
from tests.people import make_key, make_person
at = clock.now()
with transaction.atomic():
    shop_row.make(shop_row.Settings(name="Invented Forge", night_hour=0), at=at, by="test", invented=True)
    shop_row.set_recipients([("Owner", "owner@forge.example")], at=at, by="test")
make_person("owner", login="hale", password="{PASSWORD}")
wedge = makers.make_item(Item.Kind.CONSUMABLE, code="WW", name="wood wedge")
head = makers.make_item(Item.Kind.HEAD, code="HD-CP2", name="cross peen head")
handle = makers.make_item(
    Item.Kind.HANDLE, code="HA16", name="handle 16 in", buy_unit="dozen", issue_per_buy=12,
    reorder_point=80, reorder_quantity=72, lead_days=14,
)
with transaction.atomic():
    from inventory.services import catalogue
    by = makers.actor()
    tool = catalogue.add_item(
        code="CP2", name="cross peen 2 lb", kind="tool", at=at, by=by, retail_minor=11800, shipped_mass_mg=1_360_000,
        caution="Wear goggles, bystanders too.",
    )
    catalogue.set_recipe(tool, {{head: 1, handle: 1, wedge: 1}}, at=at, by=by)
    firm = purchasing.add_supplier("Invented Handles", at=at, by=by)
    purchasing.open_order(firm, [ToBuy(handle, "6 dozen")], ordered_on=at.date(), at=at, by=by)
makers.put_in(head, 9, at=at)
makers.put_in(wedge, 40, at=at)
key, text = make_key(
    "availability:read", "stock:read", "stock:write", "orders:read", "orders:write", "addresses:read", name="web shop"
)
print("KEY", text)
"""


class Shop:
    """A running service with its morning made."""

    def __init__(self, service: Service, mail: MailServer) -> None:
        self.service, self.mail = service, mail
        said = service.python(MORNING)
        self.key = re.search(r"KEY (\S+)", said).group(1)  # type: ignore[union-attr]

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        """Ask the API as a program does; whatever moves stock carries a key of its own."""
        request = urllib.request.Request(f"{self.service.url}/api/v1/{path}", method=method)
        request.add_header("Authorization", f"Bearer {self.key}")
        if body is not None:
            request.data = json.dumps(body).encode()
            request.add_header("Content-Type", "application/json")
        if method == "POST":
            request.add_header("Idempotency-Key", uuid.uuid4().hex)
        try:
            with urllib.request.urlopen(request, timeout=20) as answer:
                return json.loads(answer.read())
        except urllib.error.HTTPError as refused:
            refused.add_note(refused.read().decode())
            raise

    def can_promise(self, code: str) -> str:
        return self.ask("GET", f"availability/{code}")["can_promise"]

    def night(self) -> str:
        """Ring as the timetable does each minute and return the e-mail's text."""
        self.service.python("from shop.tasks import ring; ring.delay()")
        wait_until(lambda: self.mail.accepted, "the night's e-mail", patience=60)
        message = self.mail.accepted[0].message
        part = message.get_body(("plain",))
        assert part is not None
        return f"{message['Subject']}\n{part.get_content()}"

    def check(self) -> str:
        return self.service.manage("check_book")


@pytest.fixture(params=DATABASES)
def shop(request: pytest.FixtureRequest, start_service: Callable[..., Service], smtp_server: MailServer) -> Shop:
    service = start_service(database=request.param, parts=("web", "worker"), env=smtp_server.env)
    return Shop(service, smtp_server)


def test_a_program_walks_the_whole_day_through_the_api(shop: Shop) -> None:
    assert shop.can_promise("CP2") == "0", "heads without handles make no hammer"
    order = shop.ask(
        "POST",
        "orders",
        {
            "customer": {"name": "Invented Buyer", "address": "1 Invented Lane"},
            "lines": [{"item": "CP2", "quantity": "4"}],
        },
    )
    assert [(line["set_aside"], line["waiting"]) for line in order["lines"]] == [("0", "4")]
    delivery = shop.ask(
        "POST",
        "deliveries",
        {
            "supplier": "Invented Handles",
            "purchase_order": 1,
            "lines": [{"order_line": 1, "item": "HA16", "quantity": "5 dozen"}],
        },
    )
    assert delivery["lines"][0]["quantity"] == "60"
    line = shop.ask("GET", f"orders/{order['number']}")["lines"][0]
    assert (line["set_aside"], line["waiting"]) == ("4", "0"), "what arrived served the line that waited"
    assert shop.can_promise("CP2") == "5", "nine heads, four spoken for"
    sent = shop.ask("POST", f"orders/{order['number']}/shipments", {"carrier": "Fen Carriers", "tracking": "FC1"})
    assert sent["carrier"] == "Fen Carriers"
    assert shop.ask("GET", f"orders/{order['number']}")["closed_at"] is not None
    mail = shop.night()
    assert "handle 16 in" in mail
    assert len(shop.mail.accepted) == 1
    assert "agrees" in shop.check()


@pytest.mark.browser
def test_a_smith_walks_the_whole_day_through_the_pages(shop: Shop, page: Any) -> None:
    url = shop.service.url
    page.set_viewport_size({"width": 1024, "height": 768})
    page.goto(f"{url}/login")
    page.fill("[name=login]", "hale")
    page.fill("[name=password]", PASSWORD)
    page.click("main button.do, form button.do")
    # The order is taken: nothing can be set aside, all of it waits.
    page.goto(f"{url}/counter/take")
    page.fill("[name=customer]", "Invented Buyer")
    page.click("summary:has-text('A new customer')")
    page.check("[name=new]")
    page.fill("[name=ship_to]", "1 Invented Lane")
    page.fill("[name=item_0]", "CP2")
    page.fill("[name=qty_0]", "4")
    page.check("[name=gift]")
    page.click("button:has-text('Take the order') >> nth=0")
    assert "Order 1" in page.inner_text("h1")
    assert "4 still owed" in page.inner_text("body").replace("\u00a0", " ")
    # The lorry brings five dozen of the six.
    page.goto(f"{url}/door/new/1")
    page.fill("[name=l0_quantity]", "5 dozen")
    page.click("button[name=do][value=book]")
    said = page.inner_text("body")
    assert "12 still to come" in said
    assert "rder 1" in said, "the page names the order that was served"
    # It is sent; the slip of a gift shows no price.
    page.goto(f"{url}/order/1/send")
    page.fill("[name=carrier]", "Fen Carriers")
    page.click("button:has-text('Send and print the slip')")
    page.goto(f"{url}/shipment/1/slip")
    slip = page.inner_text("body")
    assert "cross peen" in slip
    assert "118" not in slip
    assert "goggles" in slip
    # The Book shows the day's lines.
    page.goto(f"{url}/book")
    book = page.inner_text("body").lower()
    for kind in ("delivery", "made up", "shipment"):
        assert kind in book
    assert "handle 16 in" in shop.night()
    assert "agrees" in shop.check()

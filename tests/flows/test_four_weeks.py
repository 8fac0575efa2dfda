"""Four weeks of days given: asked and given at the Counter, made through the API with rejects, rated, told, given anew,
topped up, sent, and what the record says of them. The clock of the service is held at each moment.
"""

import datetime as dt
import re
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.test import Client

from inventory.models import Machine, OvenLoad, Step
from orders.models import Notice, Order, OrderLine, Promise, RatedPromise
from shop.flows import checking, night, sweeping
from shop.flows.ship_days import letting_go, rating
from shop.shared import clock, shop_settings
from shop.shared.models import Shop
from shop.shared.shop_row import make
from shop.shared.transactions import entry_point
from tests import forge, makers
from tests.api.asking import Program, data
from tests.forge import CHECKED, FIRST, GROUND, SECOND
from tests.makers import AT
from tests.pages.pressing import press, text
from tests.people import log_in, make_person

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
DAY = dt.timedelta(days=1)
TARN = "Tarn and Thrupp"


class Weeks:
    """The shop with its clock: a desk at its pages, a program at the API."""

    def __init__(self) -> None:
        self.at = AT
        with entry_point():
            make(shop_settings.Settings(name="Invented Forge", zone="UTC"), at=AT, by="tests")
        Shop.objects.update(slips_below=80)
        with self.now():
            self.wren = make_person("desk", login="wren")
            make_person("hand", login="joss")
            self.desk = log_in(Client(), self.wren)
            self.program = Program()
            self.made = forge.make_forge(blanks=80, handles=60, wedges=200)
            makers.make_customer(TARN, kind="dealer", address="4 Quay Row\nAldermere")
        Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=1500)

    @contextmanager
    def now(self) -> Iterator[None]:
        """Hold the clock of the service at the weeks' moment."""
        with clock.frozen(self.at):
            yield

    def goes_to(self, day: int, hour: int = 9) -> None:
        """Let the time come to an hour of a day counted from the first Monday, and what the minute does about days be done."""
        self.at = AT.replace(hour=hour) + day * DAY
        with self.now():
            self.desk = log_in(Client(), self.wren)
            sweeping.sweep(clock.now)
            letting_go.sweep(clock.now)
            rating.run_if_due(clock.now)

    def page(self, address: str) -> str:
        """Return what a page says."""
        with self.now():
            answer = self.desk.get(address)
        assert answer.status_code == 200, answer
        return text(answer).replace("\u00a0", " ")

    def press(self, address: str, **typed: str) -> str:
        """Open a page, fill in its first form, send it, and return where it leads."""
        with self.now():
            answer = press(self.desk, address, **typed)
        assert answer.status_code in (302, 303), text(answer)[:1500]
        return answer["Location"]

    def post(self, address: str, body: dict, status: int = 200) -> dict:
        """Let the program send a body."""
        with self.now():
            return data(self.program.post(address, body), status)

    def ask_and_give(self, pieces: int, **typed: str) -> Order:
        """Ask on the Counter's line, and give the day that is answered."""
        question = self.press("/counter/ask", qty=str(pieces), item=self.made.tool.item.code, kind="dealer")
        asked = self.page(question)
        assert "Kept" in asked, asked[:800]
        address = self.press(question, customer=TARN, **{"how": "answered", **typed})
        return Order.objects.get(number=int(address.rsplit("/", 1)[1]))

    def chance(self, order: Order) -> int:
        """Return how sure the day of an order is, in a million."""
        return RatedPromise.objects.get(promise__order=order, promise__superseded_by=None).chance_ppm

    def rate(self) -> None:
        """Do what the worker does when its bell rings."""
        with self.now():
            rating.run_if_due(clock.now)

    def count(self, run: str, step: int, good: int, rejected: int = 0) -> None:
        """Count through the API."""
        rejects = {"rejects": [{"cause": "cheek split", "pieces": rejected}]} if rejected else {}
        self.post(f"runs/{run}/counts", {"step": step, "good": good, **rejects})

    def start(self, pieces: int, wanted: int) -> str:
        """Start a run through the API."""
        made = self.made
        body = {
            "head": made.head.code,
            "blank": made.blank.code,
            "mill_heat": made.melt.pk,
            "pieces": pieces,
            "wanted": wanted,
        }
        return str(self.post("runs", body, 201)["code"])

    def to_the_shelf(self, run: str, pieces: int) -> None:
        """Harden, temper, check, haft and pack what is ground."""
        hard = {"work": "harden", "runs": [{"run": run, "pieces": pieces, "trial": "fine"}], "temperature_celsius": 845}
        self.post("oven-loads", hard, 201)
        soft = {"work": "temper", "runs": [{"run": run, "pieces": pieces}], "temperature_celsius": 204,
                "soak_minutes": 120, "oven": Machine.objects.get(code="OVEN1").code}  # fmt: skip
        load = self.post("oven-loads", soft, 201)
        OvenLoad.objects.filter(number=load["number"]).update(in_at=self.at - dt.timedelta(hours=4))
        out = self.post(f"oven-loads/{load['number']}/out", {})
        reading = {"lot": out["lots"][0]["lot"], "hardness": {"method": "file pair", "hrc": "50", "hrc_to": "55"}}
        self.post(f"oven-loads/{load['number']}/readings", reading)
        self.post(f"runs/{run}/counts", {"step": CHECKED, "good": pieces, "crack_checked": True})
        self.post(f"runs/{run}/hafted", {"tool": self.made.tool.item.code, "good": pieces})

    def pack(self, run: str, pieces: int) -> None:
        """Pack what is dry."""
        self.post(f"runs/{run}/packed", {"good": pieces})

    def send(self, order: Order) -> None:
        """Send what is set aside, from the page."""
        self.press(f"/order/{order.number}/send")


@pytest.fixture
def weeks(db: None) -> Iterator[Weeks]:
    shop = Weeks()
    yield shop
    with shop.now():
        assert checking.check_book(whole=True) == []


def test_four_weeks_of_days_given(weeks: Weeks) -> None:
    # Monday of the first week: a dealer wants twelve, another caller is only told three.
    order = weeks.ask_and_give(12, reference="PO 7741")
    first = Promise.objects.get(order=order)
    assert first.source == "calculated"
    assert first.chance_ppm is not None
    assert first.chance_ppm >= 950_000
    spoken = weeks.ask_and_give(3, how="phone", said_until=f"{AT.date() + 2 * DAY:%Y-%m-%d}")
    assert spoken.said_until == AT.date() + 2 * DAY
    weeks.rate()
    sure = weeks.chance(order)
    assert sure >= 900_000

    # Tuesday: a run is started; on Thursday more than half of it splits. The day slips and everybody is told.
    weeks.goes_to(1)
    run = weeks.start(14, 12)
    weeks.goes_to(3)
    weeks.count(run, FIRST, 4, rejected=10)
    weeks.rate()
    assert weeks.chance(order) < 800_000 <= sure
    slips = weeks.page("/")
    assert f"Order {order.number}, {TARN}:" in slips
    assert "in 100" in slips
    with weeks.now():
        body = night.compute(at=weeks.at, today=weeks.at.date())
    assert {"slips", "tell"} <= {part["key"] for part in body["parts"]}
    at_risk = RatedPromise.objects.get(promise=first)
    assert at_risk.slips_since == weeks.at

    # What was said on the phone was let go when its day was over, and the Day sheet says so.
    spoken.refresh_from_db()
    assert spoken.let_go_at is not None
    assert "nobody called" in slips

    # Friday: the customer is told, agrees, and gets a new day; the old one stays in the history.
    weeks.goes_to(4)
    told = weeks.press(f"/order/{order.number}/notice")
    assert told.startswith(f"/order/{order.number}")
    notice = Notice.objects.get(order=order)
    weeks.press(f"/order/{order.number}/notice/{notice.pk}", answer="agreed")
    with weeks.now():
        answer = weeks.desk.post(f"/order/{order.number}/day/asked")
    weeks.press(answer["Location"], how="answered", reason="ten of fourteen split")
    again = Promise.objects.get(order=order, superseded_by=None)
    assert (again.supersedes, again.reason) == (first, "ten of fourteen split")
    assert again.day > first.day
    history = weeks.page(f"/order/{order.number}")
    assert "Day given anew" in history
    assert "ten of fourteen split" in history

    # The second week: the run is topped up, and both go through the shop.
    weeks.goes_to(7)
    more = weeks.start(11, 9)
    for number in (SECOND, GROUND):
        weeks.count(run, number, 4)
    weeks.goes_to(8)
    weeks.count(more, FIRST, 10, rejected=1)
    for number in (SECOND, GROUND):
        weeks.count(more, number, 10)
    weeks.goes_to(9)
    weeks.to_the_shelf(run, 4)
    weeks.goes_to(10, hour=8)
    weeks.to_the_shelf(more, 10)
    weeks.goes_to(11, hour=10)
    weeks.pack(run, 4)
    weeks.pack(more, 10)
    assert OrderLine.objects.get(order=order).reserved == 12
    weeks.rate()
    assert weeks.chance(order) == 1_000_000
    weeks.send(order)
    order.refresh_from_db()
    assert order.closed_at is not None

    # What is left on the shelf is asked for and sent the same day; the third and fourth week bring nothing.
    small = weeks.ask_and_give(2)
    assert Promise.objects.get(order=small).day == weeks.at.date()
    weeks.send(small)
    weeks.goes_to(25)
    record = weeks.page("/counter/record")
    graded = [Promise.objects.get(pk=first.pk), again, Promise.objects.get(order=small)]
    sent = Order.objects.get(pk=order.pk).closed_at
    assert sent is not None
    kept = sum(sent.date() <= one.day for one in graded[:2]) + 1
    assert re.search(rf"\b{kept} of 3\b", record), record[:1500]
    with weeks.now():
        said = data(weeks.program.get("record"))
    assert said

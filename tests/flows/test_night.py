"""The night: once a local day, worked out before any mail, and the same figures in the message as in the kept result."""

import datetime as dt
import io
import re
from email.utils import parsedate_to_datetime
from urllib.parse import parse_qsl, urlsplit
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from inventory.models import Entry, Item, PurchaseOrder, PurchaseOrderLine, Supplier
from inventory.services import purchase_changes, purchasing
from inventory.services.purchasing import ToBuy
from orders.services.ordering import Terms, Wanted
from shop.flows import night
from shop.flows.night import headline, letter, running, words
from shop.shared import clock, jobs, shop_row
from shop.shared.mail import outbox
from shop.shared.models import Job, Message, NightResult, Shop
from shop.shared.shop_row import Settings
from tests import makers, people

pytestmark = pytest.mark.daily("sqlite")

DAY = dt.timedelta(days=1)
MINUTE = dt.timedelta(minutes=1)
TODAY = dt.date(2026, 11, 26)  # a Thursday
SIX = dt.datetime(2026, 11, 26, 5, 0, tzinfo=dt.UTC)  # six o'clock in Vienna
WEEKS_AGO = SIX - 42 * DAY


def make_shop(zone="Europe/Vienna", night_hour=6, quiet_days=(), recipients=("ines@example.org",), invented=True):
    with transaction.atomic():
        settings = Settings("Invented Forge", zone, night_hour=night_hour, quiet_days=quiet_days)
        shop_row.make(settings, at=WEEKS_AGO, by="tests", invented=invented)
        shop_row.set_recipients([("Invented reader", email) for email in recipients], at=WEEKS_AGO, by="tests")


def at_time(at):
    return lambda: at


def run(at):
    return night.run_if_due(at_time(at))


class Ticking:
    """A clock that moves a little at every reading, as a real one does."""

    def __init__(self, at) -> None:
        self.at = at

    def __call__(self) -> dt.datetime:
        self.at += dt.timedelta(microseconds=1)
        return self.at


def make_handles(name="16 in handles", there=30, used=84, supplier="Invented turnery", kind=Item.Kind.HANDLE, **facts):
    facts = {
        "reorder_point": 40,
        "reorder_quantity": 72,
        "lead_days": 14,
        "buy_unit": "dozen",
        "issue_per_buy": 12,
    } | facts
    owner = Supplier.objects.get_or_create(name=supplier)[0] if supplier else None
    item = makers.make_item(kind, name=name, supplier=owner, **facts)
    lot = makers.put_in(item, there + used, at=WEEKS_AGO)
    if used:
        makers.move(lot, used, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=WEEKS_AGO + DAY)
    return item


def make_promised(item_qty, day, **terms):
    return makers.make_order(
        item_qty,
        terms=Terms(day_given=day, **terms),
        customer=makers.make_customer("Invented buyer"),
        at=WEEKS_AGO + DAY,
    )


def part(body, key):
    return next((found for found in body["parts"] if found["key"] == key), None)


# When it is due


ZONES = ("Europe/Vienna", "America/Chicago", "Australia/Lord_Howe")  # the last moves its clocks by half an hour


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("hour", [0, 1, 2, 3, 6, 23])
def test_every_local_day_of_two_years_comes_due_exactly_once(zone, hour):
    start = dt.datetime(2026, 1, 1, 12, tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)
    seen = []
    for step in range(730 * 48):
        day = running.day_reached(start + step * 30 * MINUTE, hour=hour, zone=zone)
        if day and (not seen or seen[-1] != day):
            seen.append(day)
    assert len(seen) == len(set(seen))
    first = seen[0]
    assert seen == [first + n * DAY for n in range(len(seen))]
    assert len(seen) in (730, 731)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("zone", "hour"),
    [
        (zone, hour) if (at + hour) % 2 else pytest.param(zone, hour, marks=pytest.mark.long)
        for at, zone in enumerate(ZONES[:2])
        for hour in (2, 3)
    ],
)
def test_a_clock_change_at_the_hour_gives_one_result_a_day_and_one_message(zone, hour):
    make_shop(zone, hour)
    for month, first in ((3, 6), (3, 28), (10, 24), (10, 31)):  # the changes of both zones in 2026
        start = dt.datetime(2026, month, first, tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)
        before = NightResult.objects.count()
        for step in range(3 * 24 * 6):
            run(start + step * 10 * MINUTE)
        assert NightResult.objects.count() == before + 3
    assert Message.objects.count() == NightResult.objects.count()
    assert not NightResult.objects.filter(late=True).exists()


@pytest.mark.django_db
def test_before_the_hour_nothing_happens_and_at_the_hour_it_does():
    make_shop()
    assert run(SIX - MINUTE) is None
    result = run(SIX)
    assert (result.local_date, result.late) == (TODAY, False)
    assert run(SIX + MINUTE) is None
    assert NightResult.objects.count() == Message.objects.count() == 1


@pytest.mark.django_db
def test_a_database_without_a_shop_has_no_night():
    assert night.due(SIX) is None
    assert run(SIX) is None


@pytest.mark.django_db
def test_a_machine_asleep_at_the_hour_writes_on_waking_and_says_that_it_is_late():
    make_shop()
    run(SIX - DAY)
    result = run(SIX + 3 * 60 * MINUTE)
    assert result.late
    message = Message.objects.get(local_date=TODAY)
    assert message.subject.endswith("(late)")
    assert "the machine was off or asleep at 6:00. Written at 9:00." in message.text
    assert "the machine was off or asleep at 6:00. Written at 9:00." in message.html


@pytest.mark.django_db
def test_a_machine_asleep_for_days_writes_only_today():
    make_shop()
    run(SIX - 5 * DAY)
    run(SIX + MINUTE)
    assert list(NightResult.objects.order_by("local_date").values_list("local_date", flat=True)) == [
        TODAY - 5 * DAY,
        TODAY,
    ]


@pytest.mark.django_db
def test_a_shop_opened_in_the_afternoon_is_not_late_on_its_first_day():
    make_shop()
    assert not run(SIX + 8 * 60 * MINUTE).late


@pytest.mark.django_db
def test_a_clock_put_back_an_hour_writes_no_second_message():
    make_shop()
    run(SIX + 5 * MINUTE)
    for minutes in range(-55, 120, 5):
        assert run(SIX + minutes * MINUTE) is None
    assert Message.objects.count() == 1


@pytest.mark.django_db
def test_a_day_without_mail_is_worked_out_and_sends_nothing():
    make_shop(quiet_days=(3,))
    assert run(SIX).local_date == TODAY
    assert not Message.objects.exists()
    assert run(SIX + DAY).local_date == TODAY + DAY
    assert Message.objects.get().local_date == TODAY + DAY


@pytest.mark.django_db
def test_each_active_recipient_gets_one_message_with_an_id_of_its_own():
    make_shop(recipients=("ines@example.org", "jost@example.org", "gone@example.org"))
    with transaction.atomic():
        shop_row.set_recipients([("A", "ines@example.org"), ("B", "jost@example.org")], at=SIX, by="tests")
    run(SIX)
    rows = Message.objects.order_by("recipient")
    assert [row.recipient for row in rows] == ["ines@example.org", "jost@example.org"]
    assert len({row.message_id for row in rows}) == 2
    assert rows[0].message_id == outbox.message_id("night", TODAY, "ines@example.org")


@pytest.mark.django_db
def test_the_night_leaves_the_copy_of_the_book_to_be_made():
    make_shop()
    run(SIX)
    assert Job.objects.get(kind="backup").dedupe == TODAY.isoformat()


# What it says


@pytest.mark.django_db
def test_the_one_thing_to_order_is_named_in_the_subject_with_how_many_and_until_when():
    make_shop()
    item = make_handles()
    body = run(SIX).body
    assert body["headline"] == "Order 16 in handles today"
    line = part(body, "order")["lines"][0]
    assert (line["unit"], line["bold"]) == ("dozen", "16 in handles, Invented turnery.")
    assert int(line["figure"]) % 6 == 0  # in its own quantity of 72
    assert line["words"].startswith("30 free. Lasts until ")
    assert line["link"] == {"path": "/door/to-order", "words": "See today's orders"}
    facts = line["facts"]
    assert (facts["item"], facts["available"], facts["position"]) == (item.code, 30, 30)
    assert facts["quantity"] == 12 * int(line["figure"])
    assert facts["reorder_point"] >= 40  # its own, or more where more is reckoned


@pytest.mark.django_db
def test_an_item_that_nobody_uses_is_ordered_up_to_its_own_point_and_nothing_more():
    make_shop()
    make_handles(used=0, there=24)
    line = part(run(SIX).body, "order")["lines"][0]
    assert line["words"] == "24 free. Lasts until more than a year."
    assert (line["figure"], line["facts"]["reorder_point"]) == ("6", 40)


@pytest.mark.django_db
def test_pieces_waited_for_and_pieces_on_order_are_said():
    make_shop()
    item = make_handles(there=1, used=0)
    makers.make_order({item: 25}, at=WEEKS_AGO + DAY)
    make_purchase(item, "36", wanted_on=TODAY + DAY)
    unsent, due = part(run(SIX).body, "order")["lines"]
    assert unsent["bold"] == "Order 1, Invented turnery:"
    assert unsent["words"] == "written Thu 15 Oct and not sent."
    assert unsent["link"] == {"path": "/door/order/1/send", "words": "Send it"}
    assert due["words"].startswith("None free, 36 in order 1, not sent, 24 wanted by orders.")
    order = PurchaseOrder.objects.get()
    with transaction.atomic():
        purchase_changes.send(order, "phone", version=order.version, at=SIX, by=makers.actor())
    body = running.compute(at=SIX, today=TODAY)
    assert part(body, "order")["lines"][0]["words"].startswith("None free, 36 on order, 24 wanted by orders.")


@pytest.mark.django_db
def test_what_is_written_and_not_sent_is_news_though_its_goods_count_as_on_order():
    make_shop()
    item = make_handles(there=1, used=0)
    make_purchase(item, "72")
    body = run(SIX).body
    assert body["headline"] == "Send order 1"
    assert "one order not sent" in body["lead"].lower()
    assert part(body, "late") is None  # nobody can be late with what he never heard of
    make_purchase(item, "12")
    assert running.compute(at=SIX, today=TODAY)["headline"] == "Send two orders"


@pytest.mark.django_db
def test_what_is_lost_today_comes_before_what_is_to_be_ordered():
    make_shop()
    make_handles(lead_days=30)
    item = makers.make_item(Item.Kind.BLANK)
    make_promised({item: 3}, TODAY - DAY)
    assert run(SIX).body["headline"] == "One order slips; order 16 in handles today; one customer to tell"


@pytest.mark.django_db
def test_an_order_without_a_day_is_late_after_the_days_it_usually_takes():
    make_shop()
    item = make_handles(reorder_point=0, lead_days=4)
    order = make_purchase(item, "60")
    with transaction.atomic():
        purchase_changes.send(order, "phone", version=order.version, at=WEEKS_AGO, by=makers.actor())
    (line,) = part(run(SIX).body, "late")["lines"]
    assert line["words"].startswith("Ordered Thu 15 Oct, usually here within ")
    assert line["words"].endswith("days; still to come: 5 dozen of 16 in handles. Ask them for a day.")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kind", "facts", "shown", "ordered"),
    [
        ("handle", {"buy_unit": "dozen", "issue_per_buy": 12, "reorder_quantity": 72}, "6 dozen", 72),
        ("handle", {"reorder_quantity": 5}, "5", 5),
        ("consumable", {"buy_unit": "box", "issue_per_buy": 10, "reorder_quantity": 20}, "2 box", 20),
        ("consumable", {"unit": "ul", "reorder_quantity": 3_785_412}, "3.785412 L", 3_785_412),
        ("consumable", {"unit": "mg", "reorder_quantity": 453_592}, "0.453592 kg", 453_592),
    ],
)
def test_a_proposal_leads_to_an_order_filled_in_as_the_form_reads_it(kind, facts, shown, ordered):
    make_shop()
    supplier = Supplier.objects.create(name="Invented & sons")
    item = makers.make_item(kind, reorder_point=1, supplier=supplier, **facts)
    with clock.frozen(SIX):
        page = people.client_of("desk").get("/door/to-order").content.decode()
    (address,) = re.findall(r'href="(/door/order\?[^"]+)"', page)
    filled = dict(parse_qsl(urlsplit(unescaped(address)).query))
    assert filled == {"supplier": "Invented & sons", "item_0": item.code, "qty_0": shown}
    make_purchase(item, filled["qty_0"])
    assert PurchaseOrderLine.objects.get(item=item).qty == ordered


@pytest.mark.django_db
def test_a_proposal_of_steel_fills_in_grade_shape_size_and_whole_bars():
    make_shop()
    makers.make_item(Item.Kind.BAR, reorder_point=20 * makers.FOOT_NM, reorder_quantity=60 * makers.FOOT_NM)
    with clock.frozen(SIX):
        client = people.client_of("desk")
        page = client.get("/door/to-order").content.decode()
        (address,) = re.findall(r'href="(/door/order\?[^"]+)"', page)
        filled = dict(parse_qsl(urlsplit(unescaped(address)).query))
        assert filled == {"item_0": "1045", "shape_0": "round", "size_0": "2 in", "qty_0": "3 @ 20 ft"}
        page = client.get(unescaped(address)).content.decode()
    assert 'value="1045"' in page
    assert 'value="2 in"' in page
    assert re.search(r'value="round" (selected|checked)', page)


@pytest.mark.django_db
def test_a_line_far_above_all_others_is_told_as_one_off_once_and_a_person_may_say_otherwise():
    make_shop()
    item = makers.make_item(Item.Kind.HANDLE, name="Invented handles")
    makers.put_in(item, 500, at=WEEKS_AGO)
    for day in range(8):
        makers.make_order({item: 2}, at=WEEKS_AGO + day * DAY)
    great = makers.make_order({item: 60}, at=SIX - DAY)
    body = run(SIX).body
    (line,) = part(body, "one_off")["lines"]
    assert line["facts"] == {"order": great.number, "line": 1, "item": item.code, "quantity": 60}
    marked = makers.line_of(great)
    assert marked.one_off
    client = people.client_of("desk")
    address = f"/order/{great.number}/line/1"
    page = client.get(address).content.decode()
    key = re.search(r'name="request_key" value="(\w+)"', page)
    sent = {"what": "again", "one_off": "no"} | ({"request_key": key.group(1)} if key else {})
    assert client.post(address, sent).status_code == 302
    marked.refresh_from_db()
    assert not marked.one_off
    assert part(run(SIX + DAY).body, "one_off") is None
    marked.refresh_from_db()
    assert not marked.one_off


@pytest.mark.django_db
def test_what_the_shop_makes_itself_stands_under_make():
    make_shop()
    makers.make_item(Item.Kind.HEAD, name="Cross peen 2 lb head", reorder_point=5)
    body = run(SIX).body
    assert part(body, "order") is None
    assert len(part(body, "make")["lines"]) == 1
    assert body["headline"] == "Make Cross peen 2 lb head today"


@pytest.mark.django_db
def test_an_order_past_its_day_slips_and_one_for_today_is_to_be_sent():
    make_shop()
    item = makers.make_item(Item.Kind.BLANK, name="Invented handles")
    makers.put_in(item, 5, at=WEEKS_AGO)
    slipping = make_promised({item: 3}, TODAY - 2 * DAY)
    today = make_promised({item: 4}, TODAY)
    make_promised({item: 1}, TODAY + DAY)
    body = run(SIX).body
    assert body["headline"] == "One order slips; one order to send today; one customer to tell"
    slip = part(body, "slips")["lines"][0]
    assert (slip["figure"], slip["unit"]) == ("2", "days late")
    assert slip["bold"] == f"Order {slipping.number}, Invented buyer:"
    assert slip["words"] == "3 × Invented handles, given Tue 24 Nov. All of it is set aside."
    out = part(body, "today")["lines"][0]
    assert (out["figure"], out["unit"], out["facts"]["order"]) == ("4", "to send", today.number)
    assert out["words"] == "4 × Invented handles, given for today. Two pieces not there yet, 2 set aside."


@pytest.mark.django_db
def test_an_order_with_nothing_set_aside_says_none():
    make_shop()
    make_promised({makers.make_item(): 4}, TODAY)
    out = part(run(SIX).body, "today")["lines"][0]
    assert out["words"].endswith("given for today. Four pieces not there yet, none set aside.")


@pytest.mark.django_db
def test_an_order_that_is_sent_or_has_a_new_day_slips_no_more():
    make_shop()
    item = makers.make_item(Item.Kind.BLANK)
    makers.put_in(item, 5, at=WEEKS_AGO)
    makers.send(make_promised({item: 3}, TODAY - DAY), at=WEEKS_AGO + 2 * DAY)
    moved = make_promised({item: 1}, TODAY - DAY)
    with transaction.atomic():
        from orders.services import ordering

        ordering.give_day(moved, TODAY + 7 * DAY, source="by hand", at=WEEKS_AGO + 2 * DAY, by=makers.actor())
    assert run(SIX).body["parts"] == []


@pytest.mark.django_db
def test_an_order_made_to_order_or_not_paid_says_what_holds_it_up():
    make_shop()
    wanted = [Wanted(qty=2, words="Tongs after a drawing", price_minor=5000)]
    make_promised(wanted, TODAY, send_when_paid=True)
    line = part(run(SIX).body, "today")["lines"][0]
    assert "2 × Tongs after a drawing" in line["words"]
    assert "Two pieces made to order, not done yet." in line["words"]
    assert "Goes only when paid, and money is still owed." in line["words"]


def make_purchase(item, typed, *, wanted_on=None, confirmed_on=None):
    supplier = item.supplier or Supplier.objects.get_or_create(name="Invented turnery")[0]
    facts = {"at": WEEKS_AGO, "by": makers.actor()}
    with transaction.atomic():
        lines = [ToBuy(item, typed)]
        order = purchasing.open_order(supplier, lines, ordered_on=WEEKS_AGO.date(), wanted_on=wanted_on, **facts)
        return purchasing.confirm(order, confirmed_on, version=order.version, **facts) if confirmed_on else order


@pytest.mark.django_db
def test_a_late_delivery_one_for_today_and_a_phone_hold_that_ends_are_said():
    make_shop()
    item = make_handles(reorder_point=0)
    make_purchase(item, "60", confirmed_on=TODAY - 3 * DAY)
    asked = make_purchase(item, "12", confirmed_on=TODAY - 2 * DAY)
    with transaction.atomic():
        purchase_changes.asked(asked, TODAY - DAY, version=asked.version, at=SIX - DAY, by=makers.actor())
    today = make_purchase(item, "24", wanted_on=TODAY)
    with transaction.atomic():
        purchase_changes.send(today, "printed", version=today.version, at=SIX - DAY, by=makers.actor())
    makers.make_phone_hold(item, 2, name="Invented caller", until=SIX + 60 * MINUTE, at=SIX - DAY)
    makers.make_phone_hold(item, 1, name="Later caller", until=SIX + 2 * DAY, at=SIX - DAY)
    body = run(SIX).body
    late, after = part(body, "late")["lines"]
    assert late["words"].endswith("Ask them for a day.")
    assert after["words"].endswith("Asked on Wed 25 Nov, no day yet.")
    assert (late["figure"], late["unit"]) == ("3", "days late")
    assert "Promised for Mon 23 Nov; still to come: 5 dozen of 16 in handles." in late["words"]
    arriving, hold = part(body, "today")["lines"]
    assert "Wanted for today: 2 dozen of 16 in handles." in arriving["words"]
    assert hold["words"] == "put by for Invented caller until 7:00 today; then free for anybody."
    assert part(body, "today")["counted"] == "one delivery to come, one phone hold ends"


@pytest.mark.django_db
def test_a_book_that_does_not_balance_is_the_first_news(monkeypatch):
    make_shop()
    make_handles(lead_days=30)
    found = [f"Item H-{number}: the counter says 3, the lots say 2." for number in range(12)]
    monkeypatch.setattr(running, "_book", lambda **_: found)
    body = run(SIX).body
    assert body["headline"] == "The book does not balance; order 16 in handles today"
    lines = part(body, "book")["lines"]
    assert len(lines) == 11
    assert (lines[-1]["figure"], lines[-1]["unit"]) == ("2", "more")
    assert "12 differences" in night.render(body).text or "twelve differences" in night.render(body).text


@pytest.mark.django_db
def test_yesterdays_message_that_never_went_out_and_a_copy_that_failed_are_said(settings):
    settings.SMTP_HOST = "127.0.0.1"
    make_shop()
    run(SIX - DAY)
    Message.objects.update(log=[{"at": "x", "said": "The mail server could not be used."}])
    Job.objects.update(given_up_at=SIX - DAY, last_error="CopyFailed: no space left.")
    body = run(SIX).body
    said = [line["words"] for line in part(body, "not_done")["lines"]]
    assert said[0] == "the message of Wed 25 Nov to ines@example.org was not sent. The mail server could not be used."
    assert said[1] == "not made on 2026-11-25. CopyFailed: no space left."
    assert body["headline"] == "Something was not done in the night"


@pytest.mark.django_db
def test_a_day_without_news_is_one_line():
    make_shop()
    said = night.render(run(SIX).body)
    assert said.subject == "Nothing to order, nothing late"
    assert said.text.count("\n") == 1
    assert said.text.startswith("Thursday 26 November, 6:00 · Invented Forge (invented shop): Nothing to order")
    assert "<table" not in said.html


def test_the_subject_carries_three_pieces_at_the_most():
    parts = [letter_part(key) for key in ("order", "slips", "today", "late")]
    assert headline.subject(parts) == "Order; slips; today"


def letter_part(key):
    from shop.flows.night.body import Part

    return Part(key, key, (), key, key)


def test_several_urgent_things_are_counted_in_the_subject():
    assert words.count(2, "thing") == "two things"
    assert words.count(13, "box") == "13 boxes"
    assert words.count(1, "delivery") == "one delivery"
    assert words.count(3, "delivery") == "three deliveries"
    assert words.count(2, "day") == "two days"
    assert words.count(5, "dozen") == "five dozen"


@pytest.mark.django_db
def test_bars_are_said_in_feet_or_metres_and_oil_and_belts_as_bought():
    inch = makers.make_item(Item.Kind.BAR)
    metric = makers.make_item(Item.Kind.BAR, section=makers.make_section(size_nm=50_000_000, typed="50 mm"))
    oil = makers.make_item(Item.Kind.CONSUMABLE, unit=Item.Unit.UL)
    wax = makers.make_item(Item.Kind.CONSUMABLE, unit=Item.Unit.MG)
    belts = makers.make_item(Item.Kind.CONSUMABLE, buy_unit="box", issue_per_buy=10)
    assert words.quantity(inch, 20 * makers.FOOT_NM + 1) == ("21", "ft")
    assert words.quantity(metric, 6_000_000_000) == ("6", "m")
    assert words.quantity(oil, 7_570_824) == ("2", "gal")
    assert words.quantity(wax, 45_359_237 // 100) == ("1", "lb")
    assert words.quantity(belts, 20) == ("2", "boxes")
    assert words.quantity(belts, 21) == ("21", "pieces")


@pytest.mark.django_db
def test_text_and_html_and_kept_result_say_the_same_in_the_same_order(settings):
    settings.BASE_ADDRESS = "http://forge.example:8000"
    make_shop()
    make_handles(name="Ash & <oak> handles", lead_days=30)
    item = makers.make_item(Item.Kind.BLANK, name="Other handles")
    make_promised({item: 3}, TODAY - DAY)
    body = run(SIX).body
    message = Message.objects.get()
    assert message.subject == body["headline"]
    seen = []
    for found in letter.told_once(body["parts"]):
        for line in found["lines"]:
            seen += [found["name"], line["words"], line["link"]["path"]]
    for text in (message.text, unescaped(message.html)):
        at = text.index(body["lead"])
        for piece in (n for n in seen if not n.startswith("/")):
            at = text.index(piece, at)  # breaks where it stands further up
        assert text.count("http://forge.example:8000/") == len(re.findall(r"forge\.example", text)) >= 3
    assert "Ash & <oak> handles" in message.text
    assert "Ash &amp; &lt;oak&gt; handles" in message.html
    assert "<script" not in message.html
    assert "!" not in message.text


def unescaped(text):
    from html import unescape

    text = text.replace("\u00a0", " ")
    return unescape(re.sub(r"</?b[^>]*>|</?a[^>]*>", "", text)) + " ".join(re.findall(r'href="([^"]+)"', text))


@pytest.mark.django_db
def test_the_message_is_made_from_the_kept_result_and_from_nothing_else():
    make_shop()
    item = make_handles(lead_days=30)
    result = run(SIX)
    Item.objects.filter(pk=item.pk).update(name="Renamed")
    Shop.objects.update(name="Renamed")
    result.refresh_from_db()
    assert letter.render(result.body).text == Message.objects.get().text


# The message goes out


@pytest.fixture
def mail(settings, smtp_server):
    settings.SMTP_HOST, settings.SMTP_PORT, settings.SMTP_TIMEOUT_SECONDS = smtp_server.host, smtp_server.port, 2
    settings.MAIL_FROM = "bickern@forge.example"
    return smtp_server


@pytest.mark.django_db
def test_it_is_sent_once_with_text_and_html_from_the_shop(mail):
    make_shop(recipients=("ines@example.org", "jost@example.org"))
    make_handles(name="Ösen 16 in", lead_days=30)
    run(SIX)
    assert outbox.send_due(Ticking(SIX)) == 2
    assert outbox.send_due(Ticking(SIX + MINUTE)) == 0
    assert [got.recipients for got in mail.accepted] == [["ines@example.org"], ["jost@example.org"]]
    got = mail.accepted[0].message
    kept = Message.objects.get(recipient="ines@example.org")
    assert got["Subject"] == kept.subject == "Order Ösen 16 in today"
    assert got["Message-ID"] == kept.message_id
    assert got["From"] == "Invented Forge <bickern@forge.example>"
    assert got["Auto-Submitted"] == "auto-generated"
    assert parsedate_to_datetime(got["Date"]) == SIX
    assert got.get_body(("plain",)).get_content().replace("\r\n", "\n").strip() == kept.text.strip()
    assert "Ösen 16 in" in got.get_body(("html",)).get_content()
    assert (kept.state, kept.attempts, kept.repeats) == ("sent", 1, 0)


@pytest.mark.django_db
def test_without_a_mail_server_messages_wait_and_a_sentence_says_so(settings):
    settings.SMTP_HOST = ""
    make_shop()
    run(SIX)
    assert outbox.send_due(at_time(SIX)) == 0
    assert Message.objects.get().state == "waiting"
    assert outbox.sentence() == (
        "No mail server is set, so one message is written and not sent; BICKERN_SMTP_HOST names the server."
    )


@pytest.mark.django_db
def test_a_message_that_waits_is_replaced_by_the_next_days(settings, mail):
    make_shop()
    run(SIX - DAY)
    run(SIX)
    assert outbox.send_due(Ticking(SIX)) == 1
    old = Message.objects.get(local_date=TODAY - DAY)
    assert old.state == "given_up"
    assert old.log[-1]["said"] == "Never sent; the message of 2026-11-26 took its place."
    assert outbox.sentence() == ""


# The command that shows it


def show(*arguments):
    out, err = io.StringIO(), io.StringIO()
    call_command("show_night", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


@pytest.mark.django_db
def test_the_command_shows_a_kept_day_as_it_was_sent_and_sends_nothing(mail):
    make_shop()
    item = make_handles(lead_days=30)
    run(SIX)
    Item.objects.filter(pk=item.pk).update(reorder_point=0)
    with clock.frozen(SIX + DAY):
        out, err = show("--date", TODAY.isoformat())
        html, _ = show("--date", TODAY.isoformat(), "--html")
    kept = Message.objects.get()
    assert out == f"Subject: {kept.subject}\n\n{kept.text}"
    assert html == kept.html
    assert "one message is waiting to be sent" in err.lower()
    assert mail.accepted == []


@pytest.mark.django_db
def test_the_command_works_out_a_day_without_a_result_and_keeps_nothing():
    make_shop()
    make_handles(lead_days=30)
    with clock.frozen(SIX - 60 * MINUTE):
        out, err = show()
    assert out.startswith("Subject: Order 16 in handles today\n")
    assert "No result is kept for 2026-11-26" in err
    assert not NightResult.objects.exists()
    assert not Message.objects.exists()


@pytest.mark.django_db
def test_the_command_refuses_a_day_that_is_none_and_a_database_without_a_shop():
    with pytest.raises(CommandError, match="is no day; write it as 2026-11-26"):
        show("--date", "yesterday")
    with pytest.raises(CommandError, match="There is no shop yet"):
        show()


# The jobs


@pytest.fixture
def add():
    def add(kind="copy", dedupe="1", at=SIX, payload=None):
        with transaction.atomic():
            jobs.add(kind, dedupe, at, payload)

    return add


@pytest.mark.django_db
def test_a_job_is_written_once_and_carried_out_once(add):
    add(payload={"n": 1})
    add(payload={"n": 2})
    seen = []
    assert jobs.run_due(at_time(SIX), {"copy": lambda payload, at: seen.append((payload, at))}) == jobs.Done(done=1)
    assert jobs.run_due(at_time(SIX), {"copy": lambda payload, _at: seen.append(payload)}) == jobs.Done()
    assert seen == [({"n": 1}, SIX)]


@pytest.mark.django_db
def test_a_job_that_is_not_due_or_has_no_handler_stays(add):
    add(at=SIX + MINUTE)
    add(kind="other")
    assert jobs.run_due(at_time(SIX), {"copy": lambda _payload, _at: None}) == jobs.Done()


@pytest.mark.django_db
def test_a_job_that_fails_is_put_off_longer_each_time_and_given_up_with_its_reason(add):
    add()

    def fails(payload, at):
        raise ValueError("the drawer is stuck")

    at, waits = SIX, []
    for _ in range(jobs.MAX_ATTEMPTS - 1):
        assert jobs.run_due(at_time(at), {"copy": fails}) == jobs.Done(put_off=1)
        waits.append(Job.objects.get().due_at - at)
        at = Job.objects.get().due_at
    assert waits == [minutes * MINUTE for minutes in (1, 2, 4, 8, 16, 32, 60)]
    assert jobs.run_due(at_time(at), {"copy": fails}) == jobs.Done(given_up=1)
    assert jobs.given_up("copy", since=SIX)[0].last_error == "ValueError: the drawer is stuck"
    assert jobs.run_due(at_time(at + DAY), {"copy": fails}) == jobs.Done()


@pytest.mark.django_db
def test_a_job_whose_worker_died_is_taken_again_after_ten_minutes_and_not_for_ever(add):
    add()
    seen = []
    at = SIX
    for _ in range(jobs.MAX_ATTEMPTS):
        assert jobs.claim(at, ["copy"]) is not None  # and dies
        assert jobs.claim(at + 9 * MINUTE, ["copy"]) is None
        at += 11 * MINUTE
    assert jobs.run_due(at_time(at), {"copy": lambda _payload, _at: seen.append(1)}) == jobs.Done(given_up=1)
    assert seen == []
    assert Job.objects.get().last_error == "The worker ended while it was at this job."


@pytest.mark.django_db
def test_a_worker_that_was_slow_cannot_finish_a_job_that_another_has_taken_over(add):
    add()

    def slow(payload, at):
        assert jobs.claim(SIX + 11 * MINUTE, ["copy"]) is not None

    assert jobs.run_due(at_time(SIX), {"copy": slow}) == jobs.Done()
    assert Job.objects.get().done_at is None


@pytest.mark.django_db
def test_the_heartbeat_is_one_row_that_moves():
    assert jobs.last_beat() is None
    jobs.beat(SIX)
    jobs.beat(SIX + MINUTE)
    assert jobs.last_beat() == SIX + MINUTE
    assert Job.objects.count() == 1

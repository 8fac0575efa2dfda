"""Every page of the shop in a real browser: read by an accessibility scan, on a tablet, a telephone and a narrow one.

One service with the demo serves the whole walk; every page is opened once and then looked at in each size and light.
"""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT

from shop.access import roles
from tests.conftest import LONG
from tests.servers import Service

pytestmark = pytest.mark.daily("sqlite")

TABLET, PHONE, NARROW = (
    {"width": 1024, "height": 768},
    {"width": 390, "height": 844},
    {"width": 320, "height": 700},
)
GLOVED = {"Day", "Door", "Rack", "Shelf"}
# a word for machines, tables, files to be saved
NO_SHEETS = {
    "livez", "feed", "staff:order_file", "staff:door_photo_file", "staff:certificate_paper", "staff:melt_went_into",
    "staff:counter_owed_csv", "staff:customer_owed_csv",
}  # fmt: skip

# Makes what the demo's days may not have left lying about, and prints the address of every page.
PREPARE = """
import datetime as dt, io, json
from django.core.management import call_command
said = io.StringIO()
call_command("load_demo", days=10, stdout=said, stderr=io.StringIO())
from django.urls import reverse
from inventory.models import *
from inventory.services import certificates, checking_in, purchasing, receiving
from inventory.services.certificates import TypedCertificate
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.ledger import Stamp
from inventory.services.purchasing import ToBuy
from orders.models import *
from orders.services import holding, ordering, returning
from orders.services.ordering import Terms, Wanted
from shop.access.actor import Actor
from shop.access.models import Person
from shop.access.services import links
from shop.flows import delivering, taking_out
from shop.shared import clock, transactions
at = clock.now()
by = Actor.of(Person.objects.get(login="hale"))
stamp = Stamp(at=at, by=by)
def do(call):
    with transactions.entry_point():
        return call()
tool = max(Item.objects.filter(kind="tool"), key=lambda one: one.stock.sellable - one.stock.allocated)
sent = ShipmentLine.objects.filter(line__item__isnull=False, shipment__reversed_at=None).latest("id")
back = do(lambda: returning.come_back(sent.shipment, sent.line.number, 1, why="loose", stamp=stamp))
out = do(lambda: taking_out.take_out(tool, 1, "show", stamp=stamp))
hold = do(lambda: holding.say_on_the_phone(
    tool, 1, name="Ms Ousby", until=at + dt.timedelta(days=2), at=at, made_by=by.label))
order = do(lambda: ordering.take(
    Customer.objects.order_by("id")[0], [Wanted(2, tool), Wanted(1, words="A hot cut as drawn")],
    Terms(day_given=at.date(), gift=True, gift_note="For Ms Ousby"), at=at, by=by))
firm = Supplier.objects.order_by("id")[0]
typed = Paper([PaperLine(sort="steel", grade="1045", shape="round", size="2 in", heat_number="H0071", bars="3 @ 20 ft"),
               PaperLine(sort="goods")], "LS 71", "")
draft = do(lambda: receiving.start(firm, order=None, typed=typed, at=at, by=by))
whole = Paper([PaperLine(sort="steel", grade="1045", shape="round", size="2 in", heat_number="H0072", bars="2 @ 20 ft")])
came = do(lambda: delivering.receive(firm, whole, stamp=stamp)).delivery
claim = do(lambda: checking_in.claim(came, "short", "One bar short.", at=at, by=by))
of_1045 = LimitRow.objects.filter(grade__code="1045", edition="16")[0]
melt = came.lines.get(number=1).melt
read = TypedCertificate("T-55", paper_type="3.1", document=of_1045.document, edition="16", read_by="HE", note="a scan",
                        figures={"C": "0.52", "Mn": "0.70", "S": "<0.06", "Cu": "0.2"})
paper = do(lambda: certificates.file(melt, read, at=at, by=by))
handles = Item.objects.filter(kind="handle")[0]
bought = do(lambda: purchasing.open_order(firm, [ToBuy(handles, "36")], ordered_on=at.date(), at=at, by=by))
from inventory.services import bottles
gas = Item.objects.filter(buy_unit="bottle")[0]
bottle = Bottle.objects.order_by("pk").first() or do(
    lambda: bottles.came(gas, ["14"], stamp=stamp, came_on=at.date()))[0]
from inventory.queries import count_sheets
from inventory.services import count_sheets as sheets
sheet = do(lambda: sheets.open_sheet("the week's", count_sheets.of_items([handles.code, tool.code]), stamp=stamp))
days = dt.timedelta(days=1)
overdue = do(lambda: purchasing.open_order(
    firm, [ToBuy(handles, "36", 7200), ToBuy(handles, "12")], ordered_on=at.date() - 9 * days,
    wanted_on=at.date() - 2 * days, note="ring first", at=at, by=by))
from shop.flows import purchase_sending
do(lambda: purchase_sending.send(overdue, "e-mail", version=1, at=at, by=by, to="orders@firm.example"))
bar = Bar.objects.filter(lot__holdings__on_hand__gt=0, lot__holdings__place__inside=True).order_by("-pk")[0]
slot = Place.objects.filter(kind="rack").exclude(code="RACK").order_by("code").first() or Place.objects.get(code="RACK")
start = do(lambda: links.make_owner_link(at=at)) if not Person.objects.exists() else "/start/gone"
from inventory.models import Blade, CutPlan, CutPlanBar
from inventory.services import cut_asking, saws
from shop.flows import cut_answering, cut_plans
from shop.shared.units import parse_length
blank = Item.objects.filter(kind="blank", blank_length_nm__isnull=False).order_by("code")[0]
rods = Item.objects.get(kind="bar", grade=blank.grade, section=blank.section)
saw = do(lambda: saws.save_blade(
    Blade(name="cold saw", kerf_nm=parse_length("1/16 in").nm, measured_on=at.date()), at=at, by=by))
def planned(count):
    question = cut_asking.Question(rods, [cut_asking.Wanted(blank, count)], saw.kerf_nm, blade=saw, seconds=2)
    plan = do(lambda: cut_plans.ask(question, at=at, by=by))
    cut_answering.work({"plan": plan.pk}, at)
    return plan
taken, answered = planned(5), planned(12)
do(lambda: cut_plans.take(taken.number, 0, version=None, at=at, by=by))
to_saw = CutPlanBar.objects.get(plan=taken, state="to saw")
on_bar = {"number": taken.number, "bar": to_saw.bar.number}
from inventory.services.count_facts import Reject, Seen
from inventory.services.hafting import Hafted
from inventory.services.hardness import Reading
from inventory.services.ovens import Fire, Into
from inventory.services.starting import Start
from inventory.services import hardness as readings
from orders.services import mending
from shop.flows import floor
from django.db.models import Sum
head = Item.objects.get(code="HD-CP2")
from shop.flows import moving_in
do(lambda: moving_in.move_in("stock", chr(10).join(["item,quantity,mill heat number", "BL-CP2,40,H0099", "HA16,20,", "WW,20,", "SW,20,"]), stamp=stamp))
sawn_melt = Melt.objects.get(heat_number="H0099")
def started():
    return do(lambda: floor.start(Start(head, Item.objects.get(code="BL-CP2"), sawn_melt, 3, 4), stamp=stamp))
def through(work):
    run = started()
    steps = {s.name: s for s in run.route.steps.all()}
    for name in ("first forging heat", "second forging heat", "ground"):
        do(lambda: floor.count(run, steps[name], Seen(3), stamp=stamp))
    do(lambda: floor.harden([Into(run, 3, "file skates")], Fire(8450, "845 °C"), stamp=stamp))
    if work == "harden": return run
    load = do(lambda: floor.temper_in([Into(run, 3)], Fire(2040, "204 °C", 120, 0), stamp=stamp))
    if work == "temper": return load
    late = Stamp(at=at + dt.timedelta(hours=3), by=by)
    do(lambda: floor.take_out(load, stamp=late))
    do(lambda: floor.count(run, steps["tempered and checked"], Seen(3, crack_checked=True, reading=Reading("rockwell", 530, 530)), stamp=late))
    if work == "check": return run
    do(lambda: floor.haft(run, Hafted(Item.objects.get(code="CP2"), Seen(2)), stamp=late))
    return run
sawn, hard, load, checked, curing = started(), through("harden"), through("temper"), through("check"), through("haft")
do(lambda: readings.read(load.lots.get().lot, Reading("file pair", 400, 700), stamp=stamp, load=load))
piece = do(lambda: mending.bring_in(Customer.objects.order_by("id")[0], mending.Brought("tongs", "a jaw"), at=at, by=by))
n = {"number": order.number}
from orders.queries import availability
from orders.services import releases
scarce = next(one for one in Item.objects.filter(kind="tool").order_by("-code") if availability.one(one, at=at).can_promise > 1)
some = availability.one(scarce, at=at).can_promise
release = do(lambda: releases.begin("Friday", scarce, 1, opens_at=at, closes_at=None, at=at, by=by))
for qty in (some, 3):
    window = Terms(not_before=at.date() + dt.timedelta(days=5), not_after=at.date() + dt.timedelta(days=9))
    do(lambda: ordering.take(Customer.objects.order_by("id")[0], [Wanted(qty, scarce)], window, at=at, by=by))
from orders.services import notices
told = do(lambda: notices.write(order, notices.Told("by e-mail", "Later than we said."), promise=None, today=at.date(), at=at, by=by))
from shop.flows.ship_days import asking
more = asking.Asked(((Item.objects.get(code="CP2"), 60),), by_day=at.date() + dt.timedelta(days=7))
question, of_order = asking.ask(more, at=at, by=by), asking.ask_for(order, at=at, by=by)
answers = [{"number": question.pk}, {"number": of_order.pk}]
about = {
    "counter_asked": answers, "counter_asked_ideas": answers,
    "cut_plan_new": [{"code": rods.code}], "cut_plan": [{"number": taken.number}, {"number": answered.number}],
    "cut_plan_sheet": [{"number": taken.number}], "cut_plan_otherwise": [on_bar], "cut_plan_leave": [on_bar],
    "blade": [{"number": saw.pk}],
    "start": [{"token": "not-a-link-any-more"}], "person": [{"person_id": by.person.pk}],
    "delivery_new": [{"number": bought.number}], "delivery": [{"number": draft.number}, {"number": came.number}],
    "door_look": [{"number": came.number}], "door_answer": [{"number": came.number, "line_number": 1}],
    "door_claim": [{"number": came.number}], "door_photo": [{"number": came.number}],
    "door_claim_follow": [{"number": claim.pk}], "rack_melt_shut": [{"number": melt.pk}],
    "melt_certificate": [{"number": melt.pk}], "certificate_await": [{"number": melt.pk}],
    "grade": [{"number": one.pk} for one in Grade.objects.filter(code__in=("1045", "W1"))],
    "grade_row": [{"number": of_1045.pk}], "grade_row_drop": [{"number": of_1045.pk}],
    "door_order": [{"number": bought.number}, {"number": overdue.number}],
    **{f"door_order_{what}": [{"number": bought.number}] for what in ("close", "change", "paper", "send")},
    "door_order_asked": [{"number": overdue.number}], **{name: [{"number": firm.pk}] for name in ("supplier", "supplier_terms", "supplier_prices")},
    **{name: [{"number": sheet.number}] for name in ("count", "count_paper")},
    "count_line": [{"number": sheet.number, "line_number": 1}], "bottle": [{"number": bottle.pk}],
    "door_order_line": [{"number": overdue.number, "line_number": 1}],
    "rack_slot": [{"code": slot.code}], "item": [{"code": tool.code}, {"code": "LINSEED"}],
    "floor_start_one": [{"code": head.code}], "floor_load": [{"number": load.number}], "floor_pattern": [{"code": "CP2"}],
    "floor_step": [{"code": "CP2", "number": 1}],
    "floor_count": [{"code": sawn.code}], "floor_haft": [{"code": checked.code}], "floor_pack": [{"code": curing.code}],
    "floor_handles": [{"code": Lot.objects.filter(item__kind="handle")[0].code}], "mending": [{"number": piece.number}],
    "hold": [{"number": hold.pk}], "hold_order": [{"number": hold.pk}], "return": [{"number": back.number}],
    "release": [{"number": release.pk}], "release_paste": [{"number": release.pk}],
    "counter_shares": [{"code": scarce.code}, {"code": handles.code}], "customer_owed": [{"number": order.customer_id}],
    "customer": [{"number": order.customer_id}], "shelf_back": [{"number": out.pk}],
    "order": [n, {"number": sent.line.order.number}], "order_line": [n | {"line_number": 1}, n | {"line_number": 2}],
    "order_notice_answer": [n | {"notice": told.pk}], "order_notice_refund": [n | {"notice": told.pk}],
    "shipment": [{"number": sent.shipment.number}], "packing_slip": [{"number": sent.shipment.number}],
    "shipment_back": [{"number": sent.shipment.number}], "book_entry": [{"number": out.entry_id}],
    "book_lot": [{"number": bar.lot_id}], "book_melt": [{"number": bar.lot.melt_id}],
    "book_order": [{"number": sent.line.order.number}],
}
if not Item.objects.filter(code="LINSEED").exists():
    about["item"][1]["code"] = Item.objects.filter(kind="consumable")[0].code
def guess(name):
    short = name.removeprefix("staff:")
    if short in about: return about[short]
    if short in ("floor_run", "floor_evening", "floor_part", "floor_join", "floor_sheet", "floor_tags"): return [{"code": sawn.code}]
    if short.startswith("rack_bar"): return [{"number": bar.number}]
    if short.startswith("rack_lot"): return [{"number": bar.lot_id}]
    if short.startswith("grade_"): return [{"number": of_1045.grade_id}]
    if short.startswith("certificate"): return [{"number": paper.pk}]
    if short.startswith("item_"): return [{"code": tool.code}]
    if short.startswith("order_"): return [n]
    return [{}]
from shop.access.roles import PAGES
names = [name for name, line in PAGES.items() if "GET" in line and name not in NO_SHEETS]
print(json.dumps({"login": said.getvalue().split(" with ")[1].split()[0],
    "pages": {name: [reverse(name, kwargs=one) for one in guess(name)] for name in names}}))
"""

# Things to touch that are lower than they should be. A link inside a sentence is as high as its line (WCAG 2.2, 2.5.8).
LOW = """least => [...document.querySelectorAll(
  "a[href], button, summary, select, textarea, input:not([type=hidden])")].filter(one => {
    const box = one.matches("[type=checkbox], [type=radio]") ? one.closest("label") || one : one;
    const {height, width, right} = box.getBoundingClientRect();
    if (!box.getClientRects().length || right < 0 || getComputedStyle(box).visibility === "hidden") return false;
    const words = one.matches("a") && getComputedStyle(one).display === "inline" && one.parentElement.textContent.trim();
    return !(words && words !== one.textContent.trim()) && (height < least - .5 || width < 24);
}).map(one => `${one.tagName.toLowerCase()} ${(one.name || one.textContent).trim().slice(0, 40)}: ` +
    `${Math.round(one.getBoundingClientRect().height)} px`)"""
SCAN = """options => axe.run(document, {resultTypes: ["violations"], ...options}).then(found =>
  found.violations.filter(one => ["serious", "critical"].includes(one.impact)).map(one =>
    `${one.id}: ${one.nodes.slice(0, 3).map(node => node.html.slice(0, 90)).join(" ¦ ")}`))"""
KINDS = """() => [...new Set([...document.querySelectorAll("body *")].map(one =>
  [one.tagName, one.className.baseVal ?? one.className, one.type, one.getAttribute("role")].join(".")))].sort().join()"""
SEEN: set[str] = set()
WIDER = "() => document.documentElement.scrollWidth - window.innerWidth"
ONLY_COLOURS = {"runOnly": ["color-contrast", "link-in-text-block"]}
ALL_BUT_COLOURS = {
    "rules": {"color-contrast": {"enabled": False}}
}  # they are the same at every width, and slow to scan
COLOURED = {"", "staff:door", "staff:rack", "staff:shelf", "staff:counter", "staff:order", "staff:book", "staff:day"}
"""Pages whose colours the usual run scans; all pages take theirs from one sheet, and --long scans them all."""


@pytest.fixture(scope="module")
def demo() -> Iterator[tuple[Service, dict[str, Any]]]:
    with Service(parts=("web",)) as service:
        prepared = json.loads(service.python(f"NO_SHEETS = {NO_SHEETS!r}\n{PREPARE}"))
        yield service, prepared


def test_every_page_can_be_read_touched_and_carried_about(page: Any, demo: tuple[Service, dict[str, Any]]) -> None:
    service, prepared = demo
    faults: list[str] = []
    where = ""

    def listen(said: Any) -> None:
        if said.type == "error" and "status of 404" not in said.text:  # which pages answer so is looked at below
            faults.append(f"{where} said {said.text}")

    page.on("console", listen)
    page.on("pageerror", lambda broken: faults.append(f"{where} broke: {broken}"))
    page.set_viewport_size(TABLET)
    page.goto(f"{service.url}/login")
    faults += [f"login {fault}" for fault in looked_at(page, "")]
    page.fill("[name=login]", "hale")
    page.fill("[name=password]", prepared["login"])
    page.click("main button.do, form button.do")
    walked = 0
    for name, addresses in prepared["pages"].items():
        for where in addresses:
            answer = page.goto(service.url + where)
            wanted = {404, 410} if name == "staff:start" else {200}
            faults += [] if answer.status in wanted else [f"{where} answered {answer.status}"]
            faults += [f"{where} {fault}" for fault in looked_at(page, name)]
            walked += 1
    assert walked >= len([line for line in roles.PAGES.values() if "GET" in line]) - len(NO_SHEETS)
    assert not faults, "\n".join(faults)


def is_new(page: Any) -> bool:
    """Say whether a page has an element of a kind, or kinds together, that no page before it had.

    The scan takes most of the time, and pages made of the same elements fail it alike; --long scans every one.
    """
    kinds = page.evaluate(KINDS)
    new = kinds not in SEEN
    SEEN.add(kinds)
    return new


def looked_at(page: Any, name: str) -> list[str]:
    """Return what is wrong with the page that is open, in every size and light."""
    page.evaluate(AXE_SCRIPT)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    room = page.evaluate("() => document.querySelector('.wall [aria-current]')?.textContent ?? ''")
    least = 56 if room in GLOVED else 48
    faults = []
    on_tablet = {} if LONG or name in COLOURED else ALL_BUT_COLOURS
    for size, scan in ((TABLET, on_tablet), (PHONE, ALL_BUT_COLOURS)):
        page.set_viewport_size(size)
        if LONG or (size == TABLET and is_new(page)):
            faults += [f"at {size['width']}: {fault}" for fault in page.evaluate(SCAN, scan)]
        faults += [f"at {size['width']}: too low a target, {low}" for low in page.evaluate(LOW, least)]
        wider = page.evaluate(WIDER)
        faults += [f"at {size['width']}: {wider} px wider than the window"] if wider > 0 else []
    page.set_viewport_size(NARROW)
    wider = page.evaluate(WIDER)
    faults += [f"at 320: {wider} px wider than the window"] if wider > 0 else []
    if not LONG:  # the scans on the phone and at night find what the tablet's finds, but for colours
        return faults
    page.emulate_media(color_scheme="dark")
    page.set_viewport_size(TABLET)
    faults += [f"at night: {fault}" for fault in page.evaluate(SCAN, ONLY_COLOURS)]
    page.emulate_media(color_scheme="light")
    return faults

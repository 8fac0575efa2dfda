"""Every form of the Floor, and of pieces brought in, with what nobody should type: a sentence, nothing changed, no 5xx."""

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import (
    Entry,
    FloorNote,
    Hardness,
    ItemStock,
    Lot,
    Machine,
    OvenLoad,
    Pattern,
    Route,
    Run,
    RunCount,
    ToolingChange,
    ToolingSet,
)
from inventory.services import hardness
from inventory.services.ovens import Fire, Into
from orders.models import BroughtIn, Customer
from orders.services import mending
from orders.services.mending import Brought
from shop.flows import floor
from shop.shared import clock
from shop.shared.models import AuditLine
from tests import forge, makers
from tests.conftest import LONG
from tests.makers import AT
from tests.pages.pressing import ODD, forms
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("postgresql")

PAGES: dict[str, dict[str, str]] = {
    "/floor/start/{head}": {"wanted": "3", "start": "4"},
    "/floor/{sawn}": {"more": "1"},
    "/floor/{spoilt}": {"cause": "cheek split"},
    "/floor/{sawn}/count": {"c_unknown": "1"},
    "/floor/{tempered}/count": {"crack_checked": "on", "reading": "53"},
    "/floor/{sawn}/evening": {"good_1": "3", "bad_1": "1"},
    "/floor/{sawn}/part": {"step": "0", "qty": "1"},
    "/floor/{sawn}/join": {"into": "{other}"},
    "/floor/{checked}/haft": {"c_unknown": "1"},
    "/floor/{curing}/pack": {"early": "it is needed"},
    "/floor/oven": {"in_{hard}": "on"},
    "/floor/oven/{load}": {},
    "/floor/away": {"what": "{sawn}-1", "good": "2"},
    "/floor/tally": {"t_{sawn_pk}_0": "4"},
    "/floor/note": {"what": "stopped: gas"},
    "/floor/tooling": {},
    "/floor/patterns/{pattern}": {"loss": "11", "do": "facts"},
    "/floor/patterns/{pattern}/step/8": {"people": "2"},
    "/floor/patterns/new": {"code": "NP", "name": "a new pattern"},
    "/floor/machines/new": {"code": "PRESS-9", "name": "a press"},
    "/floor/tooling/new": {"code": "T99", "name": "a flatter", "machines": "HAMMER"},
    "/floor/handles/{handles}": {"good": "3", "bad": "1"},
    "/floor/open/{loose}": {},
    "/floor/oven/{load}/reading/{reading}": {},
    "/out": {"what": "until", "last": "{today}"},
    "/down": {"what": "planned", "last": "{today}"},
    "/settings/shut-days": {"first": "{today}", "why": "fair day"},
    "/counter/mending/new": {"customer": "An Invented Farrier", "what": "tongs", "wanted": "a new jaw"},
    "/counter/mending/{piece}": {},
}
ALONE = {"/floor/open/{loose}", "/floor/oven/{load}/reading/{reading}"}  # a button on another page
SENT_TOO = (
    "from",
    "at",
    "catch_up",
    "who",
    "do",
    "work",
    "start",
    "entry",
    "sure",
    "line",
    "touch",
    "end",
    "take_away",
)
COUNTED = (
    Entry,
    Run,
    RunCount,
    OvenLoad,
    Hardness,
    FloorNote,
    Machine,
    Pattern,
    ToolingSet,
    ToolingChange,
    Route,
    BroughtIn,
    Customer,
    Lot,
    AuditLine,
)


@pytest.fixture
def where(db: None) -> dict[str, object]:
    """A floor with a run at every place; returns what stands in the addresses."""
    make_shop()
    made = forge.make_forge(blanks=80)
    sawn, other = made.start(4), made.start(4)
    ground, spoilt = made.start(6), made.start(4)
    forge.count(spoilt, forge.FIRST, 3, forge.Reject(1))
    for number in (forge.FIRST, forge.SECOND, forge.GROUND):
        forge.count(ground, number, 6)
    forge.harden(ground, 5)
    fire = Fire(2_040, "204 °C", 120)
    with transaction.atomic():
        load = floor.temper_in([Into(ground, 2)], fire, stamp=makers.stamp())
        lot = load.lots.get().lot
        reading = hardness.read(lot, hardness.Reading("rockwell", 530, 530), stamp=makers.stamp(), load=load)
    tempered = _through(made, forge.TEMPER)
    checked = _through(made, forge.CHECKED)
    curing = _through(made, forge.HAFTED)
    with transaction.atomic():
        piece = mending.bring_in(makers.make_customer(), Brought("tongs", "a jaw"), at=AT, by=makers.actor())
    loose = makers.put_in(made.head, 2, place="FLOOR", step=forge.FIRST)
    return {
        "head": made.head.code, "sawn": sawn.code, "sawn_pk": sawn.pk, "spoilt": spoilt.code, "other": other.code, "hard": ground.code,
        "tempered": tempered.code, "checked": checked.code, "curing": curing.code, "load": load.number,
        "pattern": made.pattern.code, "handles": Lot.objects.filter(item=made.tool.handle)[0].code,
        "loose": loose.code, "reading": reading.pk, "piece": piece.number, "today": clock.now().date().isoformat(),
    }  # fmt: skip


def _through(made: forge.Forge, last: int) -> Run:
    run = made.start(4)
    for number in (forge.FIRST, forge.SECOND, forge.GROUND):
        forge.count(run, number, 4)
    forge.harden(run, 4)
    forge.temper(run, 4)
    if last >= forge.CHECKED:
        forge.check(run, 4)
    if last >= forge.HAFTED:
        forge.haft(made, run, 3)
    return run


def counted() -> tuple[object, ...]:
    stock = tuple(ItemStock.objects.order_by("pk").values_list("sellable", "allocated", "waiting"))
    return (*(model.objects.count() for model in COUNTED), stock)


@pytest.mark.parametrize("sheet", PAGES)
def test_no_form_of_the_floor_breaks_over_what_is_typed(where: dict[str, object], sheet: str) -> None:
    client: Client = client_of("owner")
    address = sheet.format(**where)
    usual = {name.format(**where): text.format(**where) for name, text in PAGES[sheet].items()}
    typed = list(usual)
    if sheet not in ALONE:
        found = [form for form in forms(client.get(address)) if not form.action]
        assert found, f"{address} has no form: take it off the list"
        form = next((one for one in found if set(usual) <= {*one.fields, *SENT_TOO}), found[0])
        usual, typed = {**form.fields, **usual}, form.typed
    for place, name in enumerate(dict.fromkeys([*typed, *SENT_TOO])):
        for odd in ODD if LONG else ODD[place % 14 :: 14]:
            before = counted()
            answer = client.post(address, {**usual, name: odd, "request_key": ""})
            said = f"{address} with {name}={odd[:20]!r}"
            assert answer.status_code in {200, 302, 404, 409, 412, 422}, f"{said}: {answer.status_code}"
            if answer.status_code in {409, 412, 422}:
                assert counted() == before, f"{said} was refused and changed something"
                assert "Nothing has been written down yet." in answer.content.decode(), said


@pytest.mark.parametrize("text", ["", "0", "-1", "x", "999999", "NaN", "½"])
def test_no_address_of_the_floor_breaks_over_what_is_asked(where: dict[str, object], text: str) -> None:
    client = client_of("hand")
    for page, name in (
        ("/floor/oven", "run"),
        (f"/floor/start/{where['head']}", "wanted"),
        (f"/floor/start/{where['head']}", "sure"),
        (f"/floor/start/{where['head']}", "line"),
        (f"/floor/{where['sawn']}/count", "from"),
        (f"/floor/{where['sawn']}/count", "at"),
    ):
        assert client.get(page, {name: text}).status_code in {200, 302}, (page, name, text)

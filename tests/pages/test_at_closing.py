"""The pages at closing time: what is hard is in the temper by then, said with the shop's own hour."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Run
from shop.flows import untempered
from shop.shared import clock, shop_row
from shop.shared.models import Job
from shop.shared.shop_row import Settings
from tests import forge, makers
from tests.forge import FIRST, GROUND, SECOND
from tests.pages.pressing import ODD, forms, text
from tests.people import client_of

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
ZONE = "Europe/Vienna"
WINTER, SUMMER = "2026-03-27", "2026-03-30"  # Friday and Monday; the clocks go forward between them


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    with transaction.atomic():
        shop_row.make(Settings("Invented Forge", ZONE), at=makers.AT, by="tests")


def wall(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE)).astimezone(dt.UTC)


def hardened(at: dt.datetime, qty: int = 6) -> Run:
    run = forge.make_forge().start(qty, at=at)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, qty, at=at)
    forge.harden(run, qty, at=at)
    return run


def shown(page: str, at: dt.datetime, role: str = "hand") -> str:
    with clock.frozen(at):
        return text(client_of(role).get(page))


@pytest.mark.parametrize("day", [WINTER, SUMMER])
def test_at_closing_hard_heads_are_the_first_line_of_the_day_although_two_hours_are_not_over(day: str) -> None:
    run = hardened(wall(f"{day}T16:10"))
    page = shown("/", wall(f"{day}T17:01"))
    line = f"6 heads of run {run.code} should have been in the temper by 17:00."
    assert line in page
    assert page.index(line) == min(found.start() for found in re.finditer(r"\d+ heads", page)), "the first line"
    assert page.index("Temper") < 400, page[:600]
    assert f"of run {run.code} must be in the temper by 17:00." in shown("/", wall(f"{day}T16:59"))


@pytest.mark.parametrize("day", [WINTER, SUMMER])
def test_the_floor_and_the_run_say_the_hour_of_closing_too(day: str) -> None:
    run = hardened(wall(f"{day}T16:10"))
    floor = shown("/floor", wall(f"{day}T16:20"))
    assert f"The 6 of {run.code} must be in the temper by 17:00." in floor
    assert "temper by 17:00" in floor
    assert "harden : temper by 17:00." in shown(f"/floor/{run.code}", wall(f"{day}T16:20"))
    assert f"The 6 of {run.code} should have been in the temper by 17:00." in shown("/floor", wall(f"{day}T17:10"))


@pytest.mark.parametrize(
    ("put_in", "said"),
    [(f"{WINTER}T17:30", "by 19:30"), ("2026-03-28T16:10", "by 18:10"), (f"{SUMMER}T10:00", "by 12:00")],
)
def test_after_closing_on_a_shut_day_and_in_the_morning_only_the_set_time_counts(put_in: str, said: str) -> None:
    run = hardened(wall(put_in))
    at = wall(put_in) + dt.timedelta(minutes=5)
    assert f"of run {run.code} must be in the temper {said}." in shown("/", at)
    assert f"temper {said}" in shown("/floor", at)


def test_an_owner_who_closes_earlier_sees_it_on_the_day_sheet_and_is_warned_then() -> None:
    run = hardened(wall(f"{SUMMER}T14:00"))
    with clock.frozen(wall(f"{SUMMER}T14:10")):
        owner = client_of("owner")
        (form,) = forms(owner.get("/settings"))
        days = {"open_days": ["0", "1", "2", "3", "4"], "quiet_days": []}
        answer = owner.post("/settings", {**form.fields, **days, "closes_at": "15:00"})
        assert answer.status_code == 302, text(answer)
    assert f"of run {run.code} must be in the temper by 15:00." in shown("/", wall(f"{SUMMER}T14:20"))
    assert wall(f"{SUMMER}T15:00") in Job.objects.filter(kind=untempered.JOB).values_list("due_at", flat=True)


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["closes_at", "open_days"])
def test_hours_that_nobody_should_type_are_refused_with_a_sentence_and_stay_typed(name: str, odd: str) -> None:
    owner: Client = client_of("owner")
    (form,) = forms(owner.get("/settings"))
    before = shop_row.settings_of(shop_row.the_shop())
    answer = owner.post("/settings", {**form.fields, "open_days": ["0"], "quiet_days": [], name: odd})
    allowed = name == "open_days" and odd.strip() == "0"
    assert answer.status_code == (302 if allowed else 422)
    if not allowed:
        assert shop_row.settings_of(shop_row.the_shop()) == before
        said = re.findall(r'class="say"[^>]*>([^<]+)', answer.content.decode())
        assert any("would work" in one or "needed" in one or "choose" in one or "cannot" in one for one in said), said

"""The table for a spreadsheet by a secret link."""

import csv
import datetime as dt
import io
import logging
import statistics
import time
from typing import Any

import pytest
from django.db import OperationalError, transaction
from django.test import Client

from inventory.models import Item
from shop.access.models import FeedLink
from shop.access.services import feeds
from shop.api import availability
from shop.shared import clock, quiet
from tests.api.asking import make_shop
from tests.makers import AT, make_item, put_in

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def link() -> tuple[FeedLink, str]:
    make_shop()
    with transaction.atomic():
        made, secret = feeds.make(name="A dealer", at=AT, by=None, expires_at=AT + dt.timedelta(days=300))
    return made, f"/feed/{made.public_id}.{secret}/availability.csv"


def test_a_spreadsheet_gets_what_can_be_promised_and_nothing_else(link: tuple[FeedLink, str]) -> None:
    put_in(make_item(code="HAN-1"), 5, cost_minor=99_99)
    make_item(Item.Kind.BAR, code="BAR-1")
    with clock.frozen(AT):
        response = Client().get(link[1])
    assert response["Content-Type"] == "text/csv; charset=utf-8; header=present"
    (row,) = csv.DictReader(io.StringIO(response.content.decode(), newline=""))
    assert list(row) == list(availability.HEADER)
    assert (row["code"], row["can_promise"], row["state"]) == ("HAN-1", "5", "InStock")
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["X-Robots-Tag"] == "noindex"
    assert "private" in response["Cache-Control"]
    assert "Set-Cookie" not in response.headers
    assert Client().get(link[1], headers={"If-None-Match": response["ETag"]}).status_code == 304
    found = FeedLink.objects.get()
    assert found.used == 2
    assert found.last_used_at is not None


def test_a_link_that_leads_nowhere_is_404_and_empty_whatever_the_reason(link: tuple[FeedLink, str]) -> None:
    made, address = link
    wrong = [
        address.replace(made.public_id, "x" * 12),
        address.replace(".csv", ".tsv"),
        address[:-25] + "A/availability.csv",
        address + "/",
        address + "?token=1",
        "/feed/..%2f..%2fetc/availability.csv",
        "/feed/a.b/availability.csv",
        "/feed/%00.%00/availability.csv",
        "/feed/" + "a" * 5000 + ".b/availability.csv",
    ]
    for one in wrong:
        response = Client().get(one)
        assert (response.status_code, response.content) == (404, b""), one
    with clock.frozen(made.expires_at):
        assert Client().get(address).status_code == 404
    with transaction.atomic():
        feeds.revoke(made.pk, at=AT, by=None)
    assert Client().get(address).status_code == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_link_only_reads(link: tuple[FeedLink, str], method: str) -> None:
    response = Client().generic(method, link[1])
    assert response.status_code == 405
    assert FeedLink.objects.get().used == 0


def test_a_failure_has_an_empty_body_so_that_no_sheet_takes_it_for_figures(
    link: tuple[FeedLink, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(**_: Any) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr(availability, "everything", fail)
    response = Client(raise_request_exception=False).get(link[1])
    assert (response.status_code, response.content) == (503, b"")


def test_no_line_of_the_log_holds_the_secret(
    link: tuple[FeedLink, str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    handler = logging.StreamHandler(stream := io.StringIO())
    handler.addFilter(quiet.NoSecrets())
    handler.setLevel(logging.DEBUG)
    root = logging.getLogger()
    root.addHandler(handler)
    made, address = link
    secret = address.split(".")[1].split("/")[0]
    try:
        client = Client(raise_request_exception=False)
        client.get(address)
        client.post(address)
        client.get(address + "x")
        client.get(address, headers={"Host": "elsewhere.example:99999"})
        monkeypatch.setattr(availability, "everything", lambda **_: 1 / 0)
        client.get(address)
        logging.getLogger("any").error("asked for %s with %s", address, "Bearer bkn_abcdEFGHijklMNOP")
    finally:
        root.removeHandler(handler)
    said = stream.getvalue()
    assert f"/feed/{made.public_id}.…" in said
    assert secret not in said
    assert "EFGHijkl" not in said


def test_a_wrong_secret_takes_as_long_as_an_unknown_link(link: tuple[FeedLink, str]) -> None:
    client = Client()
    wrong_secret = link[1][:-25] + "A/availability.csv"
    unknown = link[1].replace(link[0].public_id, "x" * 12)

    def took(address: str) -> float:
        started = time.process_time()
        client.get(address)
        return time.process_time() - started

    pairs = [(took(wrong_secret), took(unknown)) for _ in range(60)]
    first, second = (statistics.median(side) for side in zip(*pairs, strict=True))
    assert 1 / 3 < first / second < 3

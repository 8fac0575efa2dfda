"""Large bodies at the web server itself: a file of up to 20 MB is taken, a larger one and a large text are refused."""

import contextlib
import http.client
import itertools
import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.api.sending import PDF, pdf_of
from tests.servers import Service

pytestmark = pytest.mark.django_db  # a service starts on a copy of the tests' tables
MB = 1000 * 1000
BEGIN = """
from django.db import transaction
from shop.access.services import keys
from shop.shared import clock, shop_row
from inventory.services import catalogue
with transaction.atomic():
    shop_row.make(shop_row.Settings(name="Invented Forge"), at=clock.now(), by="tests", invented=True)
    _, text = keys.make(name="A scanner", scopes=("stock:read", "stock:write"), at=clock.now(), by=None)
    melt = catalogue.melt(grade=catalogue.grade("1045", density_ug_per_cm3=7_850_000), heat_number="0A7731")
print(text, melt.pk)
"""
_numbers = itertools.count(1)


def test_a_paper_of_19_mb_is_kept_and_one_of_21_mb_is_refused(start_service: Callable[..., Service]) -> None:
    service = start_service(parts=("web",))
    key, melt = service.python(BEGIN).split()[-2:]
    address = f"/api/v1/melts/{melt}/certificates/paper?name=C-1.pdf"

    def ask(method: str, where: str, body: bytes = b"", kind: str = "") -> tuple[int, bytes]:
        headers = {"Authorization": f"Bearer {key}", "Idempotency-Key": f"of-the-scanner-{next(_numbers):08d}"}
        with contextlib.closing(http.client.HTTPConnection("127.0.0.1", service.port, timeout=60)) as line:
            line.request(method, where, body, headers | ({"Content-Type": kind} if kind else {}))
            answer = line.getresponse()
            return answer.status, answer.read()

    def told(answer: tuple[int, bytes], status: int) -> Any:
        assert answer[0] == status, answer[1][:500]
        return json.loads(answer[1])

    paper = pdf_of(19 * MB)
    made = told(ask("POST", address, paper, "application/pdf"), 201)
    assert ask("GET", f"/api/v1/certificates/{made['id']}/paper") == (200, paper)
    refused = told(ask("POST", address, pdf_of(21 * MB), "application/pdf"), 413)
    assert (refused["detail"], refused["most_bytes"]) == ("The file is larger than 20 MB; make it smaller.", 20 * MB)
    assert told(ask("POST", address, pdf_of(20 * MB), "application/pdf"), 201)["file"]["name"] == "C-1.pdf"
    told(ask("POST", address, pdf_of(20 * MB + 1), "application/pdf"), 413)
    text = b'{"number": "' + b"1" * 2 * MB + b'"}'
    refused = told(ask("POST", f"/api/v1/melts/{melt}/certificates", text, "application/json"), 413)
    assert refused["most_bytes"] == 1024 * 1024
    with contextlib.suppress(ConnectionError):  # above 24 MB the web server itself refuses, and may hang up meanwhile
        assert ask("POST", address, pdf_of(25 * MB), "application/pdf")[0] == 413
    told(ask("POST", address, b"", "application/pdf"), 400)
    told(ask("POST", address, PDF, "application/pdf"), 201)
    assert len(list((service.folder / "files").iterdir())) == 3

"""Requests made from the description alone, right ones and wrong ones: no failure, and every answer as described."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core import signals
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from schemathesis.checks import CHECKS, load_all_checks

from inventory.models import Item
from shop.api import describe
from shop.flows import checking
from tests.api.asking import Program, data
from tests.api.sending import PDF, jpeg, png
from tests.makers import make_item, make_tool, put_in

pytestmark = pytest.mark.daily("postgresql")

load_all_checks()
for kind, good in (("application/pdf", PDF), ("image/jpeg", jpeg()), ("image/png", png())):
    schemathesis.openapi.media_type(kind, st.sampled_from([good, good[:60]]) | st.binary(max_size=200))
schema = schemathesis.openapi.from_path(describe.FILE)
schema.app = get_wsgi_application()
LONG = os.environ.get("HYPOTHESIS_PROFILE") == "long"
schema.config.phases.coverage.enabled = LONG  # every bound of every field, made while the tests are read
LEFT_OUT = {
    "positive_data_acceptance",  # well shaped is not enough: an item that is not in the book is 422, a made-up mark 400
}
WITH_A_VERSION = {"missing_required_header"}  # it does not know 428, the answer where If-Match is missing
CHOSEN = [check for check in CHECKS.get_all() if check.__name__ not in LEFT_OUT]


@pytest.fixture
def shop(db: None) -> Iterator[Program]:
    """A shop with the items that the examples of the description name."""
    program = Program()
    put_in(make_tool(code="HAM-2LB").item, 50)
    put_in(make_item(code="TNG-WJ"), 50)
    make_item(Item.Kind.BAR, code="BAR-1045-R2")
    hold = data(program.post("holds", {"item": "HAM-2LB", "quantity": "1"}), 201)
    assert hold["id"]
    for signal in (signals.request_started, signals.request_finished):
        signal.disconnect(close_old_connections)  # as Django's own test client does: the test's transaction goes on
    yield program
    assert checking.check_book() == []
    for signal in (signals.request_started, signals.request_finished):
        signal.connect(close_old_connections)


@schema.parametrize()
@settings(max_examples=100 if LONG else 3, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
def test_every_operation_answers_as_described(case: Any, shop: Program) -> None:
    versioned = case.method in {"PUT", "PATCH", "DELETE"}
    chosen = [check for check in CHOSEN if not (versioned and check.__name__ in WITH_A_VERSION)]
    case.call_and_validate(headers={"Authorization": f"Bearer {shop.text}"}, checks=chosen)

"""The page that shows the API, in a real browser."""

from typing import Any

import pytest

pytestmark = pytest.mark.daily("sqlite")


@pytest.mark.django_db(transaction=True)
def test_the_page_of_the_api_lists_every_operation_and_breaks_no_policy(page: Any, live_server: Any) -> None:
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda problem: said.append(str(problem)))
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{live_server.url}/api/v1/docs")
    page.wait_for_selector(".opblock-summary-path")
    from tests.api.test_description import OPERATIONS

    page.wait_for_function("count => document.querySelectorAll('.opblock').length >= count", arg=len(OPERATIONS))
    assert page.locator(".opblock").count() == len(OPERATIONS)
    page.locator(".opblock-summary-control").first.click()
    page.wait_for_selector(".opblock-body")
    assert said == []
    assert all(url.startswith((live_server.url, "data:")) for url in asked)

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

    assert len(listed(page)) == len(OPERATIONS)
    page.mouse.wheel(0, -1_000_000)
    page.wait_for_selector(".opblock-summary-control")
    page.locator(".opblock-summary-control").first.click()
    page.wait_for_selector(".opblock-body")
    assert said == []
    assert all(url.startswith((live_server.url, "data:")) for url in asked)


def listed(page: Any) -> set[str]:
    """Return the operations that are shown on the way down: with more than a hundred only those in sight are there."""
    seen: set[str] = set()
    page.mouse.move(400, 400)
    for _ in range(150):
        seen |= set(page.locator(".opblock-summary-control").all_inner_texts())
        page.mouse.wheel(0, 400)
        page.wait_for_timeout(60)
    return seen

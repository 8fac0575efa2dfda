"""What tests of pages in a real browser can ask for."""

from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from tests.pages.hands import Hand


@pytest.fixture
def at_a_tablet(live_server: Any, page: Any) -> Callable[[Client, str], Hand]:
    """A function that opens a room's first page as whoever has come in."""

    def open_room(client: Client, room: str) -> Hand:
        name = settings.SESSION_COOKIE_NAME
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
        page.set_viewport_size({"width": 1024, "height": 768})
        page.goto(f"{live_server.url}/{room}")
        return Hand(page)

    return open_room

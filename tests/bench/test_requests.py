"""What an answer of the API costs beside a plain hand-written view that does the same: processor time of the server.

Interleaved in one server, median of nine pairs. A figure of 0.5 says that the API costs twice what the floor costs.
"""

import itertools
import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.bench.measuring import Client, Measured, compare
from tests.servers import Service

pytestmark = [pytest.mark.bench, pytest.mark.long]
LEAST = {"one item": 0.45, "five hundred items": 0.5, "not modified": 0.6, "put by": 0.4}


def _filled(start_service: Callable[..., Service], movements: int = 0) -> tuple[Client, dict[str, Any]]:
    service = start_service(parts=("web",), env={"DJANGO_SETTINGS_MODULE": "tests.bench.settings"})
    said = json.loads(service.python(f"from tests.bench import shop_of_size\nprint(shop_of_size.fill({movements}))"))
    return Client(service, said["key"]), said


def test_an_answer_of_the_api_costs_no_more_than_the_shop_can_afford(
    start_service: Callable[..., Service], capsys: pytest.CaptureFixture[str]
) -> None:
    client, said = _filled(start_service)
    tool, plain = said["tools"][7], itertools.cycle(said["plain"])
    one, floor_one = f"/api/v1/availability/{tool}", f"/api/floor/availability/{tool}"
    every, floor_every = "/api/v1/availability", "/api/floor/availability"
    (body, tag), (floor_body, floor_tag) = client.get(one), client.get(floor_one)
    assert (body, tag) == (floor_body, floor_tag)
    assert client.get(every) == client.get(floor_every)
    assert len(json.loads(client.get(every)[0])["rows"]) == 500

    def put_by(path: str) -> dict[str, Any]:
        made = client.post(path, {"item": next(plain), "quantity": "1", "minutes": 1_440})[0]
        return json.loads(made)

    assert put_by("/api/v1/holds").keys() == put_by("/api/floor/holds").keys()

    def side(ask: Callable[[], object]) -> tuple[Client, Callable[[], object]]:
        return client, ask

    found: list[Measured] = [
        compare("one item", side(lambda: client.get(floor_one)), side(lambda: client.get(one)), requests=300),
        compare(
            "five hundred items", side(lambda: client.get(floor_every)), side(lambda: client.get(every)), requests=25
        ),
        compare(
            "not modified",
            side(lambda: client.get(floor_one, 304, If_None_Match=tag)),
            side(lambda: client.get(one, 304, If_None_Match=tag)),
            requests=300,
        ),
        compare(
            "put by", side(lambda: put_by("/api/floor/holds")), side(lambda: put_by("/api/v1/holds")), requests=120
        ),
    ]
    with capsys.disabled():
        print("\nprocessor time per request".ljust(36), "      floor         API   floor/API (least-most of nine)")
        for row in found:
            print(row, f"  wanted {LEAST[row.name]:.2f}")
    short = [f"{row.name}: {row.ratio:.2f}, wanted {LEAST[row.name]}" for row in found if row.ratio < LEAST[row.name]]
    assert short == []

"""A book of a million movements answers like one of a thousand: the same plan of the queries and the same processor time.

Both shops run side by side and are asked in turns, so that whatever else the machine does falls on both.
"""

import itertools
import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.bench.measuring import Client, compare
from tests.servers import Service

pytestmark = [pytest.mark.bench, pytest.mark.long]
SHORT, LONG = 1_000, 1_000_000
WITHIN = 0.15
GROWING = re.compile(r"(?:SCAN|Seq Scan on) \"?(inventory_(?:movement|holding|entry|lot)\b)")
CODE = "from tests.bench import shop_of_size\n"


@pytest.mark.parametrize("database", ["sqlite", "postgres"])
def test_a_million_movements_cost_a_reading_and_a_hold_nothing_more(
    database: str, start_service: Callable[..., Service], capsys: pytest.CaptureFixture[str]
) -> None:
    shops: list[tuple[Client, dict[str, Any]]] = []
    for movements in (SHORT, LONG):
        service = start_service(
            database=database, parts=("web",), env={"DJANGO_SETTINGS_MODULE": "tests.bench.settings"}
        )
        said = json.loads(service.python(f"{CODE}print(shop_of_size.fill({movements}))"))
        assert said["movements"] == movements
        shops.append((Client(service, said["key"]), said))
    short_plan, long_plan = (
        json.loads(client.service.python(f"{CODE}print(shop_of_size.plans())")) for client, _ in shops
    )
    differ = [sql for sql in short_plan if database == "sqlite" and short_plan[sql] != long_plan[sql]]
    read_whole = [sql for sql, plan in long_plan.items() if GROWING.search(" ".join(plan))]
    short, long = (_asking(client, said) for client, said in shops)
    rows = [
        compare(name, (shops[0][0], short[name]), (shops[1][0], long[name]), requests=requests)
        for name, requests in (("one item", 300), ("five hundred items", 25), ("put by", 120))
    ]
    with capsys.disabled():
        print(
            f"\n{database}: processor time per request".ljust(36),
            "    thousand     million   ratio (least-most of nine)",
        )
        for row in rows:
            print(row)
        print(f"{len(long_plan)} statements, plans that differ: {len(differ)}, tables read whole: {len(read_whole)}")
    assert short_plan.keys() == long_plan.keys()
    assert differ == []
    assert read_whole == []
    assert [str(row) for row in rows if not 1 - WITHIN <= row.ratio <= 1 + WITHIN] == []


def _asking(client: Client, said: dict[str, Any]) -> dict[str, Callable[[], object]]:
    plain = itertools.cycle(said["plain"])
    body = {"quantity": "1", "minutes": 1_440}
    return {
        "one item": lambda: client.get(f"/api/v1/availability/{said['tools'][7]}"),
        "five hundred items": lambda: client.get("/api/v1/availability"),
        "put by": lambda: client.post("/api/v1/holds", {"item": next(plain), **body}),
    }

"""The night for 20,000 items with three years of history: processor time beside a bare cursor, memory, and growth.

The floor is a bare cursor over the same order lines that adds them up by item and week, in the same process.
"""

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.servers import Service

pytestmark = [pytest.mark.bench, pytest.mark.long]
CODE = "from tests.bench import reorder_of_size as shop\n"
MOST_MIB = 1_024
LINEAR = 1.3  # times the cost of an item in a shop a tenth as large


@pytest.mark.parametrize("database", ["sqlite", "postgres"])
def test_the_night_grows_with_the_items_and_stays_under_a_gibibyte(
    database: str, start_service: Callable[..., Service], capsys: pytest.CaptureFixture[str]
) -> None:
    told: dict[int, dict[str, Any]] = {}
    for items in (2_000, 20_000):
        service = start_service(database=database, parts=())
        filled = json.loads(service.python(f"{CODE}print(shop.fill({items}))"))
        assert filled["lines"] == 30 * items
        floor = json.loads(service.python(f"{CODE}print(shop.raw())"))
        told[items] = json.loads(service.python(f"{CODE}print(shop.night())")) | {"floor": floor["seconds"]}
    with capsys.disabled():
        for items, one in told.items():
            print(
                f"\n{database}, {items} items: night {one['whole']:.1f} s (learn {one['learn']:.1f}, keep {one['keep']:.1f},"
                f" propose {one['propose']:.1f}), {one['whole'] / one['floor']:.1f} x a bare cursor of {one['floor']:.2f} s,"
                f" {one['mib']:.0f} MiB, {one['due']} due, {one['proposals']} orders proposed"
            )
    small, large = told[2_000], told[20_000]
    assert large["mib"] < MOST_MIB
    assert large["whole"] / 20_000 <= LINEAR * small["whole"] / 2_000

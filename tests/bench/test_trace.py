"""From any piece the whole family, however long the book is: by index only, and not much dearer than reading its rows.

A family is read by one recursive query; the floor is one read of as many rows in the order of their number.
"""

import json
from collections.abc import Callable

import pytest

from tests.servers import Service

pytestmark = [pytest.mark.bench, pytest.mark.long]
SIZES = (100_000, 1_000_000)
TIMES_THE_FLOOR = 20
CODE = "from tests.bench import families_of_size\n"


@pytest.mark.parametrize("database", ["sqlite", "postgres"])
def test_a_family_costs_no_more_than_twenty_times_its_rows(
    database: str, start_service: Callable[..., Service], capsys: pytest.CaptureFixture[str]
) -> None:
    slow, whole = [], []
    for size in SIZES:
        service = start_service(database=database, parts=())
        said = json.loads(service.python(f"{CODE}print(families_of_size.fill({size}))"))
        assert said["movements"] >= size
        found = json.loads(service.python(f"{CODE}print(families_of_size.measure())"))
        whole += json.loads(service.python(f"{CODE}print(families_of_size.scans())"))
        with capsys.disabled():
            print(f"\n{database}, {said['movements']} movements, {said['steps']} steps from lot to lot")
            for name, row in found.items():
                print(
                    f"{name:<26} {row['rows']:4.0f} rows {row['ms']:8.3f} ms, read {row['floor_ms']:.3f} ms, "
                    f"{row['ratio']} times, at worst {row['worst']}"
                )
        slow += [(size, name, row) for name, row in found.items() if row["worst"] > TIMES_THE_FLOOR]
        service.stop()
    assert whole == []
    assert slow == []

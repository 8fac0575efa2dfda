"""Days given, worked out again from what they were based on: the same model must give the same chance."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from orders.calc.dates_json import answering, reading, writing
from orders.models import Promise

MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Again:
    """A day given: what was stated of it and what comes out now, in a million; none where it cannot be asked again."""

    promise: Promise
    now: int | None
    why: str = ""

    @property
    def same(self) -> bool:
        """Say whether it comes out as it was stated."""
        return self.now == self.promise.chance_ppm


def worked_out(number: int | None = None) -> Iterator[Again]:
    """Yield the days that were worked out, of one order or of all, worked out again.

    An order in two parts has one basis for both and is not asked again; nor is what another version of the model gave.
    """
    found = Promise.objects.filter(source=Promise.Source.CALCULATED).select_related("order", "basis").order_by("pk")
    if number is not None:
        found = found.filter(order__number=number)
    for promise in found.iterator():
        yield _again(promise)


def _again(promise: Promise) -> Again:
    basis = promise.basis
    assert basis is not None, "a constraint of the table"
    if basis.code_version != answering.version():
        return Again(promise, None, f"worked out by version {basis.code_version}")
    if promise.line_id is not None and promise.supersedes_id is None:
        return Again(promise, None, "given in two parts")
    said = answering.answered(reading.read(writing.text(writing.unpack(str(basis.inputs["packed"])))))
    return Again(promise, _chance(said["answers"][0], promise))


def _chance(answer: dict[str, Any], promise: Promise) -> int | None:
    if "chance" in answer:  # of an order in the queue, by the day that was proposed
        return round(float(answer["chance"]) * MILLION)
    upto = [point["chance"] for point in answer["curve"] if point["day"] <= promise.day.isoformat()]
    return round(float(upto[-1]) * MILLION) if upto else 0

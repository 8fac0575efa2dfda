"""How the days given for an order look in the API: each with its chance, what it was based on and how sure it is now."""

from collections.abc import Collection
from typing import Any, Final

from orders.models import Promise, RatedPromise
from shop.access.unnamed import names, unnamed
from shop.api import fields, shapes
from shop.api.view import Call

MILLION: Final = 1_000_000
CHANCE: shapes.Shape = {"type": "number", "minimum": 0, "maximum": 1, "description": "0 to 1."}
RATING = shapes.thing(
    chance=CHANCE,
    chance_before=CHANCE,
    sure_day=shapes.maybe(shapes.DAY),
    half_day=shapes.maybe(shapes.DAY),
    holds=shapes.TEXT,
    slips_since=shapes.maybe(shapes.MOMENT),
    rated_at=shapes.MOMENT,
)
DAY_GIVEN = shapes.thing(
    id=shapes.WHOLE,
    line=shapes.maybe(shapes.WHOLE),
    day=shapes.DAY,
    stands=shapes.YES_NO,
    supersedes=shapes.maybe(shapes.WHOLE),
    source=shapes.words(*Promise.Source.values),
    wanted=shapes.maybe(CHANCE),
    chance=shapes.maybe(CHANCE),
    basis=shapes.maybe(shapes.thing(digest=shapes.TEXT, code_version=shapes.TEXT)),
    given_at=shapes.MOMENT,
    reason=shapes.TEXT,
    rating=shapes.maybe(RATING),
)
RATING_EXAMPLE = {
    "chance": 0.93,
    "chance_before": 0.94,
    "sure_day": "2026-03-19",
    "half_day": "2026-03-16",
    "holds": "",
    "slips_since": None,
    "rated_at": "2026-03-03T14:05:00Z",
}
EXAMPLE = {
    "id": 311,
    "line": None,
    "day": "2026-03-20",
    "stands": True,
    "supersedes": None,
    "source": "calculated",
    "wanted": 0.9,
    "chance": 0.942,
    "basis": {"digest": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", "code_version": "1"},
    "given_at": "2026-03-02T14:05:00Z",
    "reason": "",
    "rating": RATING_EXAMPLE,
}


def chance(ppm: int | None) -> float | None:
    """Return a chance kept in millionths as a number from 0 to 1."""
    return None if ppm is None else ppm / MILLION


def hidden(call: Call) -> frozenset[str]:
    """Return the names of people that a key is not told: who works in a shop is for keys that read who is out."""
    return frozenset() if call.may("shop:read") else names()


def shown(days: list[Promise], people: Collection[str]) -> list[dict[str, Any]]:
    """Return every day given for one order, superseded ones too; `people` are not named."""
    over = {one.supersedes_id for one in days}
    return [_day(one, people, stands=one.pk not in over) for one in days]


def rating(rated: RatedPromise, people: Collection[str]) -> dict[str, Any]:
    """Return how sure a day is as the shop stood when it was rated last; `people` are not named."""
    return {
        "chance": chance(rated.chance_ppm),
        "chance_before": chance(rated.before_ppm),
        "sure_day": fields.day(rated.sure_day),
        "half_day": fields.day(rated.half_day),
        "holds": unnamed(rated.holds, people),
        "slips_since": fields.moment(rated.slips_since),
        "rated_at": fields.moment(rated.at),
    }


def _day(one: Promise, people: Collection[str], *, stands: bool) -> dict[str, Any]:
    rated: RatedPromise | None = getattr(one, "rated", None)
    return {
        "id": one.pk,
        "line": one.line.number if one.line else None,
        "day": fields.day(one.day),
        "stands": stands,
        "supersedes": one.supersedes_id,
        "source": one.source,
        "wanted": chance(one.wanted_chance_ppm),
        "chance": chance(one.chance_ppm),
        "basis": {"digest": one.basis.digest, "code_version": one.basis.code_version} if one.basis else None,
        "given_at": fields.moment(one.given_at),
        "reason": one.reason,
        "rating": rating(rated, people) if rated and stands else None,
    }

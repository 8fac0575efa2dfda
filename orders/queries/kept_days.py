"""The record of days given, out of the book: each day that was given, and the day on which its last piece was sent.

Graded are days that the program worked out; days given by hand are counted beside them, days taken over from before the
program are only numbered. Every day is graded by itself, also one that was replaced later: a new day never makes a late
one kept. Left out are releases (the shop's own orders), what was cancelled whole, and days that were no promise of
anything to come: written down after they were over, or after the last piece was sent.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Max

from orders.calc import record, record_tallies
from orders.models import OrderLine, Promise, ShipmentLine
from shop.shared import clock

SEED: Final = 1  # of the resampled weeks: the same book gives the same record
USUAL_CHANCE: Final = 0.9  # where it was not kept which chance was wanted; the default of `record.Promise`
PPM: Final = 1_000_000
_FIELDS: Final = (
    "order_id", "order__number", "line_id", "day", "source", "wanted_chance_ppm", "chance_ppm", "given_at", "plain_day", "curve",
    "order__customer__kind", "order__closed_at",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Given:
    """A day that was given for an order, or a line of it; days are ordinals, chances 0 to 1.

    `curve` is empty where no chance was stated.
    """

    order: int
    asked: int
    day: int
    sent: int | None
    kind: str
    made_to_order: bool
    curve: tuple[tuple[int, float], ...] = ()
    wanted: float = USUAL_CHANCE
    plain: int | None = None

    @property
    def counted(self) -> record_tallies.Day:
        """Return it as it is counted."""
        return record_tallies.Day(self.day, self.sent, dict(self.curve).get(self.day), self.plain)

    @property
    def graded(self) -> record.Promise:
        """Return it as it is graded: with those of the same week it shares its luck."""
        year, week, _ = dt.date.fromordinal(self.day).isocalendar()
        return record.Promise(
            self.asked, self.day, self.curve, self.sent, f"{year}-W{week:02}", self.wanted, self.kind,
            self.made_to_order, self.plain,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Days given that are no part of the record; `cancelled_late` of the cancelled ones were over when it was."""

    taken_over: int = 0
    cancelled: int = 0
    cancelled_late: int = 0
    after_the_fact: int = 0


@dataclass(frozen=True, slots=True)
class Days:
    """Every day that was given, the first first."""

    calculated: tuple[Given, ...]
    by_hand: tuple[Given, ...]
    left_out: LeftOut

    def graded(self, *, last: dt.date) -> record.Record:
        """Grade those that the program worked out; `last` is the last day of which it is known what was sent."""
        return record.record([one.graded for one in self.calculated], last=last.toordinal(), seed=SEED)


@dataclass(frozen=True, slots=True)
class _Line:
    pk: int
    left: int
    shipped: int
    to_order: bool
    sent_at: dt.datetime | None


def days(*, zone: str) -> Days:
    """Return every day given, in three queries however many there are."""
    given = Promise.objects.filter(order__release=None).order_by("given_at", "id")
    rows = [dict(zip(_FIELDS, row, strict=True)) for row in given.values_list(*_FIELDS)]
    lines = _lines()
    own: dict[int, dt.datetime] = {}
    for row in rows:
        if row["line_id"] is not None:
            own.setdefault(row["line_id"], row["given_at"])
    found: dict[str, list[Given]] = defaultdict(list)
    out: Counter[str] = Counter()
    for row in rows:
        if row["source"] == Promise.Source.TAKEN_OVER:
            out["taken_over"] += 1
            continue
        promised = _promised(row, lines[row["order_id"]], own)
        why = _why_out(row, promised, zone)
        out.update(why)
        if not why:
            found[row["source"]].append(_given(row, promised, zone))
    kinds = Promise.Source
    return Days(tuple(found[kinds.CALCULATED]), tuple(found[kinds.BY_HAND]), LeftOut(**out))


def _lines() -> Mapping[int, list[_Line]]:
    """Return the lines of every order that a day was given for, each with when the last of it went."""
    wanted = Promise.objects.values("order")
    shipments = ShipmentLine.objects.filter(line__order__in=wanted, shipment__reversed_at=None)
    last = dict(shipments.order_by().values_list("line").annotate(Max("shipment__sent_at")))
    found: dict[int, list[_Line]] = defaultdict(list)
    rows = OrderLine.objects.filter(order__in=wanted).order_by("order", "number")
    for pk, order, item, ordered, shipped, cancelled in rows.values_list(
        "pk", "order_id", "item_id", "ordered", "shipped", "cancelled"
    ):
        left = ordered - shipped - cancelled
        found[order].append(_Line(pk, left, shipped, item is None, last.get(pk)))
    return found


def _promised(row: Mapping[str, Any], lines: Sequence[_Line], own: Mapping[int, dt.datetime]) -> list[_Line]:
    """Return the lines that a day is for: its own, or those of its order that had no day of their own by then."""
    if row["line_id"] is not None:
        return [line for line in lines if line.pk == row["line_id"]]
    rest = [line for line in lines if line.pk not in own or own[line.pk] > row["given_at"]]
    return rest or list(lines)


def _last_sent(lines: Iterable[_Line], zone: str) -> int | None:
    """Return the day on which the last piece went, or nothing while one is owed."""
    lines = list(lines)
    sent = [line.sent_at for line in lines if line.sent_at is not None]
    return clock.local_date(max(sent), zone).toordinal() if sent and not any(line.left for line in lines) else None


def _why_out(row: Mapping[str, Any], lines: Sequence[_Line], zone: str) -> list[str]:
    asked, sent = clock.local_date(row["given_at"], zone).toordinal(), _last_sent(lines, zone)
    day = row["day"].toordinal()
    if not any(line.left or line.shipped for line in lines):
        closed = row["order__closed_at"]
        late = closed is not None and clock.local_date(closed, zone).toordinal() > day
        return ["cancelled", "cancelled_late"] if late else ["cancelled"]
    return ["after_the_fact"] if day < asked or (sent is not None and sent < asked) else []


def _given(row: Mapping[str, Any], lines: Sequence[_Line], zone: str) -> Given:
    day, plain, wanted = row["day"].toordinal(), row["plain_day"], row["wanted_chance_ppm"]
    calculated = row["source"] == Promise.Source.CALCULATED
    return Given(
        order=row["order__number"],
        asked=clock.local_date(row["given_at"], zone).toordinal(),
        day=day,
        sent=_last_sent(lines, zone),
        kind=row["order__customer__kind"],
        made_to_order=any(line.to_order for line in lines),
        curve=_curve(row["curve"], day, row["chance_ppm"]) if calculated else (),
        wanted=wanted / PPM if wanted and wanted < PPM else USUAL_CHANCE,
        plain=plain.toordinal() if plain is not None else None,
    )


def _curve(kept: Sequence[Sequence[Any]], day: int, chance_ppm: int) -> tuple[tuple[int, float], ...]:
    """Return the kept curve where it rises and says of the day what was stated of it; otherwise the day alone."""
    curve = [(dt.date.fromisoformat(text).toordinal(), ppm) for text, ppm in kept]
    on, chances = [at for at, _ in curve], [ppm for _, ppm in curve]
    whole = on == sorted(set(on)) and chances == sorted(chances) and dict(curve).get(day) == chance_ppm
    found = curve if whole and chances[0] >= 0 and chances[-1] <= PPM else [(day, chance_ppm)]
    return tuple((at, ppm / PPM) for at, ppm in found)

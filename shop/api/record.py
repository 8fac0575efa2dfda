"""The record of days given, as figures."""

import datetime as dt
from typing import Any, ClassVar

from orders.calc import record_tallies
from orders.calc.record import Bin, Figures
from orders.calc.record_tallies import Tally
from orders.queries import kept_days
from shop.api import shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared import clock
from shop.shared.shop_row import the_shop

TAG = "Days given"
NUMBER: shapes.Shape = {"type": "number"}
BOTH_ENDS: shapes.Shape = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}
FIGURES = shapes.thing(
    days=shapes.WHOLE,
    kept=shapes.WHOLE,
    said=shapes.maybe(NUMBER),
    early=shapes.WHOLE,
    late=shapes.WHOLE,
    not_sent=shapes.WHOLE,
    mean_days_early=NUMBER,
    mean_days_late=NUMBER,
    most_days_late=shapes.WHOLE,
    mean_days_quoted=NUMBER,
    median_days_quoted=NUMBER,
    kept_share_between=shapes.maybe(BOTH_ENDS),
)
TALLY = shapes.thing(
    days=shapes.WHOLE,
    kept=shapes.WHOLE,
    said=shapes.maybe(NUMBER),
    early=shapes.WHOLE,
    late=shapes.WHOLE,
    not_sent=shapes.WHOLE,
)
MONTH = shapes.thing(month=shapes.TEXT, worked_out=TALLY, by_hand=TALLY)
CHANCE = shapes.thing(
    stated_from=NUMBER,
    stated_to=NUMBER,
    days=shapes.WHOLE,
    said=NUMBER,
    kept=shapes.WHOLE,
    by_chance_alone=shapes.thing(least=shapes.WHOLE, most=shapes.WHOLE),
)
RECORD = shapes.thing(
    up_to=shapes.DAY,
    all=shapes.maybe(FIGURES),
    kinds=shapes.many(shapes.thing(kind=shapes.TEXT, figures=FIGURES)),
    made_to_order=shapes.maybe(FIGURES),
    chances=shapes.many(CHANCE),
    months=shapes.many(MONTH),
    beside=shapes.maybe(shapes.thing(worked_out=FIGURES, rule_of_thumb=FIGURES)),
    by_hand=TALLY,
    to_come=shapes.WHOLE,
    left_out=shapes.thing(
        taken_over=shapes.WHOLE,
        cancelled=shapes.WHOLE,
        cancelled_after_the_day=shapes.WHOLE,
        after_the_fact=shapes.WHOLE,
    ),
)
_FIGURES: dict[str, Any] = {
    "days": 44, "kept": 41, "said": 42.1, "early": 29, "late": 3, "not_sent": 1, "mean_days_early": 2.1,
    "mean_days_late": 1.7, "most_days_late": 3, "mean_days_quoted": 18.4, "median_days_quoted": 16.0,
    "kept_share_between": [0.86, 0.98],
}  # fmt: skip
_TALLY = {name: _FIGURES[name] for name in ("days", "kept", "said", "early", "late", "not_sent")}
_NONE = {"days": 0, "kept": 0, "said": None, "early": 0, "late": 0, "not_sent": 0}
_EXAMPLE = {
    "up_to": "2026-03-01", "all": _FIGURES, "kinds": [{"kind": "dealer", "figures": _FIGURES}], "made_to_order": None,
    "chances": [{
        "stated_from": 0.95, "stated_to": 0.99, "days": 44, "said": 42.1, "kept": 41,
        "by_chance_alone": {"least": 38, "most": 44},
    }],
    "months": [{"month": "2026-02", "worked_out": _TALLY, "by_hand": _NONE}], "beside": None, "by_hand": _NONE, "to_come": 12,
    "left_out": {"taken_over": 8, "cancelled": 1, "cancelled_after_the_day": 0, "after_the_fact": 0},
}  # fmt: skip


def _figures(one: Figures) -> dict[str, Any]:
    return {
        "days": one.of,
        "kept": one.kept,
        "said": round(one.stated * one.of, 6) if one.stated is not None else None,
        "early": one.missed.early,
        "late": one.missed.late,
        "not_sent": one.missed.open,
        "mean_days_early": round(one.missed.early_days, 6),
        "mean_days_late": round(one.missed.late_days, 6),
        "most_days_late": one.missed.most_late,
        "mean_days_quoted": round(one.lead_mean, 6),
        "median_days_quoted": one.lead_median,
        "kept_share_between": [round(end, 6) for end in one.share] if one.share else None,
    }


def _tally(one: Tally) -> dict[str, Any]:
    said = round(one.said, 6) if one.said is not None else None
    return {
        "days": one.of, "kept": one.kept, "said": said, "early": one.early, "late": one.late, "not_sent": one.open,
    }  # fmt: skip


def _chance(one: Bin) -> dict[str, Any]:
    return {
        "stated_from": one.least,
        "stated_to": one.most,
        "days": one.of,
        "said": round(one.stated * one.of, 6),
        "kept": one.kept,
        "by_chance_alone": {"least": one.band[0], "most": one.band[1]},
    }


def shown(*, at: dt.datetime) -> dict[str, Any]:
    """Return the record up to and with the day before an instant."""
    zone = the_shop().zone
    last = clock.local_date(at, zone) - dt.timedelta(days=1)
    days = kept_days.days(zone=zone)
    found, out = days.graded(last=last), days.left_out
    ours, hand = ([one.counted for one in given] for given in (days.calculated, days.by_hand))
    by_month = [dict(record_tallies.months(given, last=last.toordinal())) for given in (ours, hand)]
    none = record_tallies.tally([], last=0)
    beside = found.beside
    return {
        "up_to": last.isoformat(),
        "all": _figures(found.all) if found.all else None,
        "kinds": [{"kind": kind, "figures": _figures(one)} for kind, one in found.kinds],
        "made_to_order": _figures(found.made_to_order) if found.made_to_order else None,
        "chances": [_chance(one) for one in found.bins],
        "months": [
            {
                "month": f"{month:%Y-%m}",
                "worked_out": _tally(by_month[0].get(month, none)),
                "by_hand": _tally(by_month[1].get(month, none)),
            }
            for month in sorted({*by_month[0], *by_month[1]}, reverse=True)
        ],
        "beside": {"worked_out": _figures(beside[0]), "rule_of_thumb": _figures(beside[1])} if beside else None,
        "by_hand": _tally(record_tallies.tally(hand, last=last.toordinal())),
        "to_come": found.to_come,
        "left_out": {
            "taken_over": out.taken_over,
            "cancelled": out.cancelled,
            "cancelled_after_the_day": out.cancelled_late,
            "after_the_fact": out.after_the_fact,
        },
    }


class Record(Endpoint):
    """The record."""

    operations: ClassVar = {
        "GET": Operation(
            name="readRecord",
            summary="How days given were kept",
            tag=TAG,
            words=(
                "Days that the program worked out and that are over, graded by what was stated of them: `said` is how many"
                " should have been kept. Each day is graded by itself, also one that was replaced. Days given by hand"
                " stand beside; those from before the program and what was cancelled whole are left out and counted."
            ),
            replies={200: Reply("The record.", RECORD, _EXAMPLE)},
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(at=call.at))

"""The record of days given at the Counter: figures first, then by month, kind, stated chance and beside a rule of thumb."""

import datetime as dt
from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.utils.dateformat import format as written_as

from orders.calc import record_measures, record_tallies
from orders.calc.record import Bin, Figures, Record
from orders.calc.record_tallies import Tally
from orders.queries import kept_days
from orders.queries.kept_days import Days
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.day_lines import Line

ROOM = "counter"
MOST_MONTHS = 24
BY_HAND = "by hand"
ONE_IN_FORTY = 0.025  # at either end: nineteen times in twenty
ENOUGH_WEEKS = 30  # of resampled weeks; fewer make the interval too narrow, see orders.calc.record
ROW = 44  # pixels of the drawing for one band of chances


def record(request: HttpRequest) -> HttpResponse:
    """Show how days given were kept, up to and with yesterday."""
    here = posting.here_of(request)
    zone = shop_row.the_shop().zone
    last = clock.local_date(posting.doing(here).at, zone) - dt.timedelta(days=1)
    days = kept_days.days(zone=zone)
    found = days.graded(last=last)
    hand = record_tallies.tally([one.counted for one in days.by_hand], last=last.toordinal())
    facts = {
        "last": last,
        "lines": _lines(found) if found.all else [],
        "by_hand": hand,
        "to_come": found.to_come,
        "months": _months(days, last),
        "kinds": _kinds(found, hand) if found.all else None,
        "drawn": _drawn(found.bins),
        "chances": _chances(found.bins) if found.bins else None,
        "rules": _rules(found.beside) if found.beside else None,
        "beside": found.beside[0].of if found.beside else 0,
        "spread": _spread(found),
        "out": days.left_out,
    }
    return posting.sheet(here, "staff/counter/record.html", ROOM, facts)


def _lines(found: Record) -> list[Line]:
    """Return the figure lines: kept against said, early, late, to come."""
    assert found.all is not None
    ours = found.all
    lines = [Line(f"{ours.kept}", f"of {_days(ours.of)} kept", f"Said: {_said(ours)}.", _holds(ours))]
    missed = ours.missed
    if missed.early:
        lines.append(
            Line(
                str(missed.early), "sent early", "", f"Kept, {_mean(missed.early_days)} before the day on the average."
            )
        )
    if missed.late:
        still = f" {missed.open} of them not sent yet, and counted up to today." if missed.open else ""
        words = f"By {_mean(missed.late_days)} on the average, {_days(missed.most_late)} at the most.{still}"
        lines.append(Line(str(missed.late), "sent late", "", words))
    if found.to_come:
        lines.append(
            Line(str(found.to_come), "to come", "", "Their day is not over; sent or not, they count when it is.")
        )
    return lines


def _holds(ours: Figures) -> str:
    """Say whether what was stated holds: beyond chance were the days apart, and beyond it from week to week."""
    assert ours.stated is not None
    least, most = record_measures.band(ours.of, ours.stated, tail=ONE_IN_FORTY)
    low, high = ours.off if ours.off is not None else (0.0, 0.0)
    said = "So many of them should have been kept, by the chances that were stated."
    if ours.kept < least and high < 0:
        said += " Fewer were kept than was said: the days are too early."
    elif ours.kept > most and low > 0:
        said += " More were kept than was said: the days are later than they need to be."
    else:
        said += " The difference is no more than chance."
    if ours.share is None or ours.clusters < ENOUGH_WEEKS:
        weeks = "week" if ours.clusters == 1 else "weeks"
        return f"{said} They fell in {ours.clusters} {weeks}, too few to say how far the share may move."
    ends = " to ".join(f"{100 * end:.0f}" for end in ours.share)
    return f"{said} As the weeks differ, {ends} of 100 are kept in the long run, nineteen times in twenty."


def _months(days: Days, last: dt.date) -> Ruled | None:
    ours = dict(record_tallies.months([one.counted for one in days.calculated], last=last.toordinal()))
    hand = dict(record_tallies.months([one.counted for one in days.by_hand], last=last.toordinal()))
    both = sorted({*ours, *hand}, reverse=True)[:MOST_MONTHS]
    heads = ("days given", "kept", "said", "early", "late", "not sent", "by hand, kept")
    rows = []
    for month in both:
        one, beside = ours.get(month), hand.get(month)
        cells = _cells(one) if one else [""] * 6
        rows.append([written_as(month, "M Y"), *cells, f"{beside.kept} of {beside.of}" if beside else ""])
    columns = [Column("month"), *(Column(head, figures=True) for head in heads)]
    return Ruled("By month, the latest first", columns, rows) if rows else None


def _cells(one: Tally) -> list[object]:
    said = f"{one.said:.1f}" if one.said is not None else ""
    return [one.of, one.kept, said, one.early or "", one.late or "", one.open or ""]


def _kinds(found: Record, hand: Tally) -> Ruled:
    """Return the kinds of customers, then made to order and the rest; by hand last and marked."""
    named = [*found.kinds, ("made to order", found.made_to_order), ("not made to order", found.from_stock)]
    rows: list[list[object]] = []
    for name, one in named:
        if one is not None:
            missed = one.missed
            rows.append([
                name, one.of, one.kept, _said(one), missed.early or "", missed.late or "", f"{one.lead_mean:.1f}",
            ])  # fmt: skip
    if hand.of:
        rows.append([BY_HAND, hand.of, hand.kept, "", hand.early or "", hand.late or "", ""])
    heads = ("days given", "kept", "said", "early", "late", "days ahead, mean")
    return Ruled("By kind of customer", [Column("for"), *(Column(head, figures=True) for head in heads)], rows)


def _band(one: Bin) -> str:
    return f"{one.least * 100:.0f} to {one.most * 100:.0f} in 100"


def _chances(bins: Sequence[Bin]) -> Ruled:
    rows = [
        [_band(one), one.of, f"{one.stated * one.of:.1f}", one.kept, f"{one.band[0]} to {one.band[1]}"] for one in bins
    ]
    heads = ("days given", "said", "kept", "kept by chance alone")
    columns = [Column("stated"), *(Column(head, figures=True) for head in heads)]
    return Ruled("By the chance that was stated", columns, rows)


def _drawn(bins: Sequence[Bin]) -> dict[str, object] | None:
    """Place one row a band of chances: where chance alone leaves the kept share, what was stated, what was kept."""
    if not bins:
        return None
    least = min(min(one.band[0], one.kept) / one.of for one in bins)
    floor = min(0.9, int(least * 10) / 10)

    def x(share: float) -> float:
        return round(1 + 98 * (share - floor) / (1 - floor), 2)

    rows = []
    for at, one in enumerate(bins):
        low, high = (x(end / one.of) for end in one.band)
        rows.append({
            "name": f"Stated {_band(one)}", "text": at * ROW + 16, "top": at * ROW + 24, "mid": at * ROW + 32,
            "end": at * ROW + 42, "low": f"{low}%", "wide": f"{max(0.4, high - low):.2f}%", "stated": f"{x(one.stated)}%",
            "kept": f"{x(one.kept / one.of)}%", "inside": one.band[0] <= one.kept <= one.band[1],
        })  # fmt: skip
    beyond = [_band(one) for one in bins if not one.band[0] <= one.kept <= one.band[1]]
    said = f"Of those stated {' and '.join(beyond)}, more or fewer were kept than chance alone would leave." if beyond else (
        "In every band of stated chances, as many were kept as chance alone may leave of what was said."
    )  # fmt: skip
    return {"rows": rows, "height": len(bins) * ROW, "title": said, "floor": round(floor * 100)}


def _rules(beside: tuple[Figures, Figures]) -> Ruled:
    rows: list[list[object]] = []
    for name, one in zip(("worked out", "rule of thumb"), beside, strict=True):
        late = f"{one.missed.late}, by {_mean(one.missed.late_days)}" if one.missed.late else ""
        rows.append([name, f"{one.lead_mean:.1f}", f"{one.lead_median:g}", f"{one.kept} of {one.of}", late])
    heads = ("days ahead, mean", "the middle one", "kept", "late")
    return Ruled("Against the rule of thumb", [Column("rule"), *(Column(head, figures=True) for head in heads)], rows)


def _spread(found: Record) -> str:
    if found.spread.uneven is None:
        return ""
    if found.spread.uneven > found.spread.limit:
        return "The days sent do not fall evenly on their curves: the spread of the worked-out days is not that of the shop."
    return "The days sent fall evenly on their curves, early ends and late ends alike."


def _said(one: Figures) -> str:
    return f"{one.stated * one.of:.1f}" if one.stated is not None else ""


def _days(count: int) -> str:
    return f"{wording.figures(count)} {'day' if count == 1 else 'days'}"


def _mean(days: float) -> str:
    return f"{days:.1f} {'day' if f'{days:.1f}' == '1.0' else 'days'}"

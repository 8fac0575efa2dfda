"""The night's lines about the floor: hardened and not tempered, and rejects that are more than chance."""

import datetime as dt

from inventory.queries import learned, runs
from shop.flows.night import words
from shop.flows.night.body import Line, Link, Part, path
from shop.shared import clock
from shop.shared.hours import Hours


def untempered(*, at: dt.datetime, hours: Hours) -> list[Part]:
    """Return the part "Temper" with what stands hardened and not tempered; it goes before everything but the book."""
    found = runs.untempered(at=at, hours=hours)
    if not found:
        return []
    lines = []
    for row, one, by in found:
        run = row.run
        late = "should have been" if by < at else "must be"
        said = (
            f"{late} in the temper by {words.hour(by, hours.zone)} on {words.day(clock.local_date(by, hours.zone))}. "
            "Glass-hard: do not strike, drop, haft or send."
        )
        link = Link(f"{path('staff:floor_oven', otherwise='staff:floor')}?run={run.code}", "Load the oven")
        facts = {"run": run.code, "pieces": one.qty, "temper_by": by.isoformat()}
        lines.append(
            Line(
                words.grouped(one.qty),
                words.plural("head", one.qty),
                f"Run {run.code}, {run.pattern.name},",
                said,
                link,
                facts,
            )
        )
    total = sum(one.qty for _, one, _ in found)
    said = f"{words.count(total, 'head')} hard and not tempered"
    return [Part("temper", "Temper", tuple(lines), said, said)]


def rejects(*, at: dt.datetime) -> list[Part]:
    """Return the part "Rejects" with yesterday's counts that had more rejects than chance."""
    found = learned.signals(since=at - dt.timedelta(days=1))
    if not found:
        return []
    lines = []
    for one in found:
        count = one.count
        bad = count.scrap + count.second + count.rework
        said = f"usual is {one.usual * 100:.1f} of 100. Look at steel, fire and tooling before the next run."
        link = Link(path("staff:floor_rejects", otherwise="staff:floor"), "See the chart")
        facts = {
            "run": count.run.code,
            "point": count.step.name,
            "rejected": bad,
            "of": count.taken,
            "usual": one.usual,
        }
        bold = f"of {count.taken} rejected at {count.step.name}, run {count.run.code}:"
        lines.append(Line(words.grouped(bad), words.plural("piece", bad), bold, said, link, facts))
    said = f"rejects at {found[0].count.step.name} more than chance"
    return [Part("rejects", "Rejects", tuple(lines), said, said)]

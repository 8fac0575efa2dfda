"""The night's lines about the floor: hardened and not tempered, and rejects that are more than chance."""

import datetime as dt

from inventory.queries import creeping, learned, runs
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
    """Return the part "Rejects" with yesterday's counts that had more rejects than chance, and rare causes that creep."""
    since = at - dt.timedelta(days=1)
    found, slow = learned.signals(since=since), creeping.found(since=since)
    if not found and not slow:
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
    lines += [_creeping(one) for one in slow]
    said = f"rejects at {found[0].count.step.name if found else slow[0].point} more than chance"
    return [Part("rejects", "Rejects", tuple(lines), said, said)]


def _creeping(one: creeping.Creeping) -> Line:
    bold = f"{one.cause} in {one.pieces} of {one.pattern.name} at {one.point}:"
    said = f"usual is {one.usual * 1000:.0f} of 1,000. Too few to show in one count; look for what has changed."
    link = Link(path("staff:floor_rejects", otherwise="staff:floor"), "See the chart")
    facts = {"point": one.point, "cause": one.cause, "rejected": one.rejects, "of": one.pieces, "usual": one.usual}
    return Line(words.grouped(one.rejects), words.plural("piece", one.rejects), bold, said, link, facts)

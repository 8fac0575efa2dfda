"""The Day sheet's lines about the floor: what must be in the temper, what is in the oven, what is dry."""

import datetime as dt

from inventory.queries import runs, tooling
from shop.shared.hours import Hours
from shop.staff import wording
from shop.staff.views import floor_words as words
from shop.staff.views.day_lines import Line
from shop.staff.views.floor import address_of, open_loads


def untempered(now: dt.datetime, hours: Hours) -> list[Line]:
    """Return what is hardened and not in the temper, the soonest due first."""
    lines = []
    for row, one, by in runs.untempered(at=now, hours=hours):
        due = words.when(by, now, hours.zone)
        late = f"should have been in the temper by {due}." if by < now else f"must be in the temper by {due}."
        said = "Glass-hard: do not strike, drop, haft or send."
        address = f"{wording.address('staff:floor_oven')}?run={row.run.code}"
        unit = "head" if one.qty == 1 else "heads"
        lines.append(
            Line(wording.figures(one.qty), unit, f"of run {row.run.code} {late}", said, address, "Load the oven")
        )
    return lines


def floor(now: dt.datetime, zone: str) -> list[Line]:
    """Return the oven's loads, what is dry and waits to be packed, and tooling to be dressed."""
    lines = []
    for load in open_loads():
        out = load.in_at + dt.timedelta(minutes=load.heat_up_minutes + load.soak_minutes)
        held = load.lots.select_related("lot__run")
        names = ", ".join(sorted({one.lot.run.code for one in held if one.lot.run}))
        qty = sum(one.qty for one in held)
        until = f"in the oven until {words.when(out, now, zone)}."
        address = wording.address("staff:floor_load", load.number)
        lines.append(Line(wording.figures(qty), "pieces", f"of {names}", until, address, "Take it out"))
    for row in runs.open_rows():
        for one in row.here:
            if one.place == "cure" and (one.dry_at is None or one.dry_at <= now):
                unit = "tool" if one.qty == 1 else "tools"
                bold = f"of run {row.run.code}, {row.run.pattern.name}:"
                lines.append(Line(wording.figures(one.qty), unit, bold, "dry.", address_of(row, one), "Pack them"))
    for one_set in tooling.sets():
        if one_set.to_dress and one_set.is_in:
            bold = f"since {one_set.tooling.name} was dressed:"
            address = wording.address("staff:floor_tooling")
            lines.append(Line(wording.figures(one_set.since_dressed), "pieces", bold, "dress it.", address, "Tooling"))
    return lines

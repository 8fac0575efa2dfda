"""How the Floor speaks: why pieces wait, what a count said, how likely a number is."""

import datetime as dt
from zoneinfo import ZoneInfo

from inventory.models import Pattern, RunCount, Step
from inventory.queries import hard
from inventory.queries.bar_gives import Gives
from inventory.queries.runs import Row, Standing
from shop.shared import units
from shop.shared.hours import Hours
from shop.staff import wording


def hour(at: dt.datetime, zone: str) -> str:
    """Write a time of day on the shop's wall, with its day where it is not today's."""
    return f"{at.astimezone(ZoneInfo(zone)):%H:%M}"


def when(at: dt.datetime, now: dt.datetime, zone: str) -> str:
    """Write a time of day, with the day where it is another than today's."""
    local, today = at.astimezone(ZoneInfo(zone)), now.astimezone(ZoneInfo(zone)).date()
    return f"{local:%H:%M}" if local.date() == today else f"{wording.on_day(local.date())} {local:%H:%M}"


def pieces(qty: int, word: str = "piece") -> str:
    """Write a number of things."""
    return f"1 {word}" if qty == 1 else f"{wording.figures(qty)} {word}s"


def in_hundred(chance: float) -> str:
    """Write a chance as times in a hundred; never surer than it is."""
    whole = int(chance * 100 + 1e-9)
    if whole >= 100:
        return "as good as sure"
    return f"{whole} times in 100" if whole else "less than once in 100"


def more_blanks(number: int, free: int, gives: Gives) -> str:
    """Say what so many pieces want of the rack beyond the blanks that lie sawn; nothing where they are enough."""
    extra = number - free
    if extra <= 0:
        return ""
    which = "the extra one" if extra == 1 else f"the {extra} extra"
    opened = gives.opened(extra)
    if opened is None:
        return f"{which}: more than the bars of this mill heat give"
    if not opened:
        return f"{which} come off cut bars" if extra > 1 else f"{which} comes off a cut bar"
    verb = "opens" if extra == 1 else "open"
    return f"{which} {verb} a new bar" if opened == 1 else f"{which} {verb} {opened} new bars"


def waits(
    row: Row, one: Standing, *, now: dt.datetime, hours: Hours, tooling_in: set[int], parts_short: str = ""
) -> str:
    """Say why a group of pieces stands where it stands."""
    zone = hours.zone
    if one.load is not None:
        out = one.load.in_at + dt.timedelta(minutes=one.load.heat_up_minutes + one.load.soak_minutes)
        return f"oven until {when(out, now, zone)}" if out > now else f"oven done at {when(out, now, zone)}"
    if one.place == "cure":
        if one.dry_at and one.dry_at > now:
            return f"dry at {when(one.dry_at, now, zone)}"
        return "dry, wait to be packed"
    if one.place == "shelf":
        return parts_short or "wait for handles to be fitted"
    standing = row.walk.numbered(one.step)
    if standing is not None and standing.work == Step.Work.HARDEN:
        return f"temper by {when(hard.temper_by(standing, one.hardened_at or now, hours), now, zone)}"
    return _next_work(row, one, tooling_in)


def _next_work(row: Row, one: Standing, tooling_in: set[int]) -> str:
    oven = row.walk.next_oven(one.step)
    if oven is not None:
        return f"wait for {oven.name}"
    point = row.walk.next_point(one.step)
    if point is None:
        return "through all steps"
    if point.tooling_id and point.tooling and point.tooling_id not in tooling_in:
        return f"wait for tooling {point.tooling.code}"
    return {"forge": "wait for the fire", "grind": "wait for the grinder", "check": "wait for the check"}.get(
        point.work, f"wait for {point.name}"
    )


def weight_classes(pattern: Pattern) -> dict[str, str]:
    """Say which heads of a pattern are light, usual and heavy; nothing where it names no limit."""
    low, high = pattern.light_below_mg, pattern.heavy_above_mg
    if low is None and high is None:
        return {}
    return {
        "light": "" if low is None else f"under {_on_the_scale(low)}",
        "usual": "all others" if low is None or high is None else "all between",
        "heavy": "" if high is None else f"over {_on_the_scale(high)}",
    }


def _on_the_scale(mg: int) -> str:
    parts = units.mass_lb_oz(mg), f"({wording.figures(round(mg / 1000))} g)"
    return " ".join(part.replace(" ", "\u00a0") for part in parts)


def counted(count: RunCount) -> str:
    """Say what a count found: 25 good at the first forging heat, 1 scrap: cheek split."""
    parts = [f"{wording.figures(count.good)} good at {count.step.name}"]
    for reject in count.rejects.all():
        cause = reject.cause.name if reject.cause else "cause not known yet"
        if reject.cause and reject.cause.handle_only:
            continue
        fate = {"scrap": "scrap", "second": "a second" if reject.qty == 1 else "seconds", "rework": "to be worked over"}
        parts.append(f"{reject.qty} {fate[reject.fate]}: {cause}")
    if count.handles_lost:
        parts.append(f"{pieces(count.handles_lost, 'handle')} lost")
    said = ", ".join(parts)
    return f"{said} (booked with a later count)" if count.caught_up else said

"""Days on which the shop is not open although it is their weekday: holidays, and the days of a shutdown."""

import datetime as dt

from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import Shop, ShutDays

LONGEST = dt.timedelta(days=366)
FIRST_DAY, LAST_DAY = dt.date(2000, 1, 1), dt.date(2199, 12, 31)
_WORDS = 80


def between(first: dt.date, last: dt.date) -> frozenset[dt.date]:
    """Return the days from the first to the last on which the shop is shut."""
    spells = ShutDays.objects.filter(last__gte=first, first__lte=last).values_list("first", "last")
    return frozenset(
        dt.date.fromordinal(number)
        for start, end in spells
        for number in range(max(start, first).toordinal(), min(end, last).toordinal() + 1)
    )


def ahead(today: dt.date) -> list[ShutDays]:
    """Return what is shut today and later, the soonest first."""
    return list(ShutDays.objects.filter(last__gte=today).order_by("first", "id"))


def add(first: dt.date, last: dt.date, why: str, *, at: dt.datetime, by: str) -> ShutDays:
    """Shut the shop from a first to a last day; days that are shut already are refused with their name."""
    transactions.assert_open()
    _check(first, last, why)
    Shop.objects.select_for_update().get(pk=1)  # two who write the same holiday come one after the other
    there = ShutDays.objects.filter(last__gte=first, first__lte=last).order_by("first").first()
    if there is not None:
        raise Invalid.field(
            "first",
            f"First day: {named(there)} is shut already; days beside it would work, or take it away and write it anew.",
        )
    made = ShutDays.objects.create(first=first, last=last, why=why.strip())
    audit.write(at=at, by=by, action="shut days added", subject=f"shut days {made.pk}", after=_facts(made))
    return made


def take_away(shut_id: int, *, at: dt.datetime, by: str) -> ShutDays:
    """Open the shop again on days it was to be shut."""
    transactions.assert_open()
    found = ShutDays.objects.select_for_update().filter(pk=shut_id).first()
    if found is None:
        raise NotFound(f"There are no shut days {shut_id}; choose some of the list.")
    audit.write(at=at, by=by, action="shut days taken away", subject=f"shut days {found.pk}", before=_facts(found))
    ShutDays.objects.filter(pk=found.pk).delete()
    return found


def named(shut: ShutDays) -> str:
    """Name shut days: works holiday, 2026-12-24 to 2027-01-01."""
    days = f"{shut.first}" if shut.first == shut.last else f"{shut.first} to {shut.last}"
    return f"{shut.why}, {days},"


def _check(first: dt.date, last: dt.date, why: str) -> None:
    wrong = {}
    if not FIRST_DAY <= first <= LAST_DAY:
        wrong["first"] = f"First day: one from {FIRST_DAY} to {LAST_DAY} would work."
    if not FIRST_DAY <= last <= LAST_DAY:
        wrong["last"] = f"Last day: one from {FIRST_DAY} to {LAST_DAY} would work."
    elif last < first:
        wrong["last"] = f"Last day: it comes before the first; {first} or later would work."
    elif last - first >= LONGEST:
        wrong["last"] = f"Last day: that is {(last - first).days + 1} days; up to {LONGEST.days} at a time would work."
    if not why.strip() or len(why.strip()) > _WORDS:
        wrong["why"] = f"Why: say what the days are in 1 to {_WORDS} characters; works holiday would work."
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)


def _facts(shut: ShutDays) -> dict[str, object]:
    return {"first": shut.first, "last": shut.last, "why": shut.why}

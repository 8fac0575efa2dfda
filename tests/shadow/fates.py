"""What befalls a shop: illness, breakdowns, lateness, good pieces, minutes. Each from a stream of its own."""

import math
from functools import cache

from tests.shadow.facts import OVEN, WEEK, Work
from tests.shadow.laws import BLOCK_WEEKS, YEAR_WEEKS, Laws
from tests.shadow.streams import drawn, stream
from tests.shadow.truths import Shop


@cache
def bad_weeks(seed: int, laws: Laws, block: int) -> frozenset[int]:
    """Return the numbers of the weeks with more rejects, of a block of half a year."""
    weeks = stream(seed, "bad weeks", block).choice(BLOCK_WEEKS, laws.bad_weeks, replace=False)
    return frozenset(block * BLOCK_WEEKS + int(week) for week in weeks)


def good_rate(shop: Shop, pattern: str, step: int, day: int) -> float:
    """Return the true chance that a piece passes the count after a step on a day."""
    rate, week = shop.steps[pattern, step].good, day // WEEK
    if shop.laws.bad_weeks and week in bad_weeks(shop.seed, shop.laws, week // BLOCK_WEEKS):
        return max(0.0, 1 - (1 - rate) * shop.laws.rejects_times)
    return rate


def good_pieces(shop: Shop, run: str, pattern: str, step: int, pieces: int, day: int) -> int:
    """Draw how many pass the count: piece by piece, so that more pieces of a run never give fewer good ones."""
    luck = stream(shop.seed, "good", run, step).random(pieces)
    return int((luck < good_rate(shop, pattern, step, day)).sum())


def miscount(shop: Shop, run: str, step: int, entered: int, good: int) -> int:
    """Draw by how much a count is wrong: 0 mostly; it never tells of none where some are left, nor of more than came."""
    if not shop.laws.miscount_share:
        return 0
    luck = stream(shop.seed, "miscount", run, step).random(2)
    if luck[0] >= shop.laws.miscount_share:
        return 0
    by = 1 if luck[1] < 1 / 2 else -1
    return by if 1 <= good + by <= entered else 0


def drift(shop: Shop, bench: str, day: int) -> float:
    """Return the factor by which a bench's minutes have drifted by a day."""
    if not shop.laws.drift:
        return 1.0
    sign = 1 if stream(shop.seed, "drift", bench).random() < 1 / 2 else -1
    return 1 + sign * shop.laws.drift * min(1.0, day / (WEEK * shop.laws.drift_weeks))


def minutes(shop: Shop, run: str, pattern: str, step: int, pieces: int, day: int) -> float:
    """Draw the work minutes of a step on all pieces of a run, begun on a day."""
    card = shop.facts.pattern(pattern).route[step]
    assert isinstance(card, Work)
    luck = stream(shop.seed, "minutes", run, step)
    factor = math.exp(card.spread * luck.standard_normal() - card.spread**2 / 2)
    if luck.random() < shop.laws.slow_share:
        factor *= shop.laws.slow_times
    return pieces * shop.steps[pattern, step].minutes * factor * drift(shop, card.bench, day)


def is_winter(laws: Laws, day: int) -> bool:
    """Say whether a day lies in the weeks in which people fall ill more often, where the laws know such weeks."""
    first, last = laws.winter_weeks
    return first <= day // WEEK % YEAR_WEEKS <= last


def ill(shop: Shop, days: list[int]) -> dict[int, set[str]]:
    """Return who is ill on each of the open days."""
    found: dict[int, set[str]] = {day: set() for day in days}
    for person in shop.facts.people:
        luck, well_at = stream(shop.seed, "ill", person.name), 0
        for at, day in enumerate(days):
            fate, spell = luck.random(), drawn(luck, shop.facts.spells)
            chance = shop.sick.get(person.name, 0.0) * (shop.laws.winter_times if is_winter(shop.laws, day) else 1)
            if at >= well_at and fate < chance:
                well_at = at + spell + 1
            if at < well_at:
                found[day].add(person.name)
    return found


def down(shop: Shop, days: list[int]) -> dict[int, dict[str, int]]:
    """Return the machines that are down on each of the open days, with the day on which each works again."""
    found: dict[int, dict[str, int]] = {day: {} for day in days}
    for machine in (*shop.facts.machines, OVEN):
        luck, sound_at, repaired = stream(shop.seed, "down", machine), 0, False
        for at, day in enumerate(days):
            fate, spell = luck.random(), drawn(luck, shop.facts.repairs)
            clustered = repaired and at < sound_at + shop.laws.cluster_days
            chance = shop.breakdown.get(machine, 0.0) * (shop.laws.cluster_times if clustered else 1)
            if at >= sound_at and fate < chance:
                sound_at, repaired = at + spell + 1, True
            if at < sound_at:
                again = days[sound_at] if sound_at < len(days) else shop.facts.calendar.open_from(days[-1] + 1)
                found[day][machine] = again
    return found


def days_late(shop: Shop, item: str, ordered: int, number: int) -> int:
    """Draw how many days after the promised one a delivery comes; `number` tells purchases of one day apart."""
    luck = stream(shop.seed, "late", item, ordered, number)
    chances = shop.supplies[item].late
    late = chances[drawn(luck, [chance for _, chance in chances])][0]
    return late + (shop.laws.very_late_days if luck.random() < shop.laws.very_late_share else 0)


def usable(shop: Shop, item: str, qty: int, ordered: int, number: int) -> int:
    """Draw how many pieces of a delivery are any good."""
    luck = stream(shop.seed, "usable", item, ordered, number).random(qty)
    return int((luck >= shop.supplies[item].bad).sum())

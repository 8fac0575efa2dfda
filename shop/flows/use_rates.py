"""What a piece was learned to use up, put into the routes: every step that uses the item, in its own share, at one touch."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from inventory.models import Item, Route, Step
from inventory.queries import used_up
from inventory.queries.used_up import Learned
from inventory.services import route_steps
from inventory.services.ledger import Stamp
from shop.shared import transactions
from shop.shared.errors import Invalid

LEAST_INTERVALS = 2  # one interval alone tells nothing of its own spread. No source
MOST_TOLD = Fraction(1, 10)  # a difference under a tenth is none that a route need follow. No source


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a hundred pieces are said to use by the routes, and what was learned; the steps that would change."""

    learned: Learned
    was: int
    now: int
    steps: Sequence[Step]


def proposal(item: Item) -> Proposal | None:
    """Return what to put into the routes; nothing where too little is learned or the routes say it already."""
    found, steps = used_up.of(item), used_up.steps_using(item)
    was = used_up.believed(item)
    if found is None or found.use.intervals < LEAST_INTERVALS or not steps or not was:
        return None
    if abs(found.use.each - was) <= max(MOST_TOLD * was, Fraction(found.use.spread)):
        return None
    said, now = round(100 * was), max(1, round(100 * found.use.each))
    per_hundred = [step.uses.get(item=item).per_hundred for step in steps]
    if all(_scaled(one, said, now) == one for one in per_hundred):
        return None  # too little is used to be written in whole units otherwise
    return Proposal(found, said, now, steps)


def take(item: Item, *, now: int, stamp: Stamp) -> list[Route]:
    """Write the next version of every route that uses the item, each step in the share it had.

    Args:
        item: what is used up.
        now: units a hundred pieces use, as it was shown to whoever agrees.
        stamp: who and when.
    """
    transactions.assert_open()
    wanted = proposal(item)
    if wanted is None or wanted.now != now:
        raise Invalid.field("now", "The figure has changed meanwhile; look at it again.")
    made = []
    for step in wanted.steps:
        facts = route_steps.facts_of(step)
        each = _scaled(facts.uses[item.code], wanted.was, wanted.now)
        if each != facts.uses[item.code]:
            changed = replace(facts, uses={**facts.uses, item.code: each})
            made.append(route_steps.change_step(step.route.pattern, changed, at=stamp.at, by=stamp.by))
    return made


def _scaled(per_hundred: int, was: int, now: int) -> int:
    return max(1, round(Fraction(per_hundred * now, max(1, was))))

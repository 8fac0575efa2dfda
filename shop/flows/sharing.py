"""Sharing pieces that are too few: set-aside pieces go from some lines to others in one booking."""

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from inventory.models import Item
from orders.calc import sharing
from orders.models import OrderLine
from orders.queries import short
from orders.queries.short import Short
from orders.services import ordering, reserving
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Stale

BY_DATE, PROPORTIONAL, BY_HAND = "by date given", "proportional", "by hand"
RULES = {
    BY_DATE: "The earliest day given first, then the place in the queue; lines without a day come last.",
    PROPORTIONAL: (
        "Each line gets the same share of what it wants, odd pieces by the largest remainder; lines that go whole are "
        "filled in full, the earliest first, out of what they would get together."
    ),
    BY_HAND: "Each line gets what is typed; together that is all there is.",
}


@dataclass(frozen=True, slots=True)
class Shared:
    """What a booking moved: the lines that lost pieces and the lines that got some, with how many."""

    lost: tuple[tuple[OrderLine, int], ...]
    got: tuple[tuple[OrderLine, int], ...]


def shares(found: Short, rule: str, typed: Mapping[int, int] | None = None) -> dict[int, int]:
    """Return what each line would get under a rule; nothing is booked."""
    if rule == BY_DATE:
        return sharing.by_date(found.claims, found.there)
    if rule == PROPORTIONAL:
        return sharing.proportional(found.claims, found.there)
    return _by_hand(found, typed or {})


def seen(found: Short, wanted: Mapping[int, int]) -> str:
    """Return what stands for shares that were looked at: it changes when they, or what they rest on, do."""
    return hashlib.sha256(f"{found.stamp} {sorted(wanted.items())}".encode()).hexdigest()[:20]


def share(
    item: Item, rule: str, typed: Mapping[int, int] | None, *, looked_at: str, at: dt.datetime, by: Actor
) -> Shared:
    """Book the shares of a rule as they were looked at (`seen`); where they are others by now it is refused."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({item.pk}, at=at)
    found = short.of(item)
    wanted = shares(found, rule, typed)
    if seen(found, wanted) != looked_at:
        raise Stale(f"These shares of {item.code} were not looked at, or it has moved since; look first.")
    changes = sharing.moved(found.claims, found.set_aside, wanted)
    if not changes:
        raise Invalid.field("rule", "Every line has that share already; choose another rule, or leave it so.")
    lines = {line.pk: line for line in found.lines}
    lost = [(lines[pk], -change) for pk, change in changes.items() if change < 0]
    got = [(lines[pk], change) for pk, change in changes.items() if change > 0]
    for line, qty in lost:
        reserving.let_go(locks, line, qty, waits=True)
    for line, qty in got:
        reserving.set_aside(locks, line, qty)
    reserving.serve_waiting(locks)
    for line, _ in (*lost, *got):
        ordering.touched(line.order, at=at)
        audit.write(
            at=at,
            by=by.label,
            action="shared",
            subject=f"order {line.order.number}",
            after={"line": line.number, "item": item.code, "rule": rule, "moved": changes[line.pk]},
        )
    return Shared(tuple(lost), tuple(got))


def _by_hand(found: Short, typed: Mapping[int, int]) -> dict[int, int]:
    wrong = {}
    for claim, line in zip(found.claims, found.lines, strict=True):
        if not 0 <= typed.get(claim.line, 0) <= claim.wants:
            wrong[f"line_{claim.line}"] = (
                f"Order {line.order.number} line {line.number} wants {claim.wants}; write 0 to {claim.wants}."
            )
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    total, there = sum(typed.get(claim.line, 0) for claim in found.claims), min(found.there, found.wanted)
    if total != there:
        raise Invalid.field("rule", f"By hand, {total} are given out and {there} are there; give out {there}.")
    return {claim.line: typed.get(claim.line, 0) for claim in found.claims}

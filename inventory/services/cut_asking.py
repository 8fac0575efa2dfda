"""The question of a cut plan: which blanks from one steel, by which saw, with what rules."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Blade, CutPlan, CutPlanLine, Item
from inventory.queries import cut_question
from shop.access.actor import Actor
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid

MOST_LINES = 60
MOST_WANTED = 2_000
MOST_SECONDS = 120


@dataclass(frozen=True, slots=True)
class Wanted:
    """So many blanks of a kind, `due` where there is a day, `words` for whom."""

    blank: Item
    count: int
    due: dt.date | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Buy:
    """A length that may be bought, nm, with the price of one bar in minor units and the length as typed."""

    nm: int
    price_minor: int
    typed: str


@dataclass(frozen=True, slots=True)
class Question:
    """What a plan is asked for: the steel, the blanks, the saw, what may be bought, and how long the worker may look."""

    item: Item
    wanted: Sequence[Wanted]
    kerf_nm: int
    blade: Blade | None = None
    buyable: Sequence[Buy] = ()
    seconds: int = 10


def ask(question: Question, *, at: dt.datetime, by: Actor) -> CutPlan:
    """Write a question down; the worker answers it."""
    transactions.assert_open()
    _check(question)
    rules = cut_question.rules()
    blade = question.blade
    plan = CutPlan.objects.create(
        number=series.take("cut plan"),
        item=question.item,
        blade=blade,
        kerf_nm=blade.kerf_nm if blade else question.kerf_nm,
        tail_hold_nm=blade.tail_hold_nm if blade else 0,
        trim_nm=rules.trim_nm,
        min_remnant_nm=rules.min_remnant_nm,
        one_heat=rules.one_heat,
        remnant_price_nm=rules.remnant_price_nm,
        handled_price_nm=rules.handled_price_nm,
        full_price_nm=rules.full_price_nm,
        buyable=[{"nm": one.nm, "price_minor": one.price_minor, "typed": one.typed} for one in question.buyable],
        seconds=question.seconds,
        asked_at=at,
        asked_by=by.person,
    )
    CutPlanLine.objects.bulk_create(
        CutPlanLine(
            plan=plan,
            number=number,
            blank=one.blank,
            piece_nm=one.blank.blank_length_nm or 0,
            count=one.count,
            due=one.due,
            words=one.words[:120],
        )
        for number, one in enumerate(question.wanted, 1)
    )
    audit.write(
        at=at,
        by=by.label,
        action="cut plan asked for",
        subject=f"cut plan {plan.number}",
        after={"steel": question.item.code, "blanks": _counts(question.wanted)},
    )
    return plan


def _check(question: Question) -> None:
    steel = question.item
    if steel.kind != Item.Kind.BAR:
        raise Invalid.field("steel", f"Steel: {steel.name} is no bar; choose the steel that is sawn.")
    if not 1 <= len(question.wanted) <= MOST_LINES:
        raise Invalid.field("pieces", f"Pieces: nothing is wanted yet; 1 to {MOST_LINES} lines of blanks would work.")
    for one in question.wanted:
        blank = one.blank
        if blank.kind != Item.Kind.BLANK or not blank.blank_length_nm:
            raise Invalid.field("pieces", f"Pieces: {blank.name} is no blank with a length; choose a blank.")
        if (blank.grade_id, blank.section_id) != (steel.grade_id, steel.section_id):
            raise Invalid.field("pieces", f"Pieces: {blank.name} is not sawn from {steel.name}.")
        if not 1 <= one.count <= MOST_WANTED:
            raise Invalid.field("pieces", f"Pieces: 1 to {MOST_WANTED} of {blank.name} would work.")
    if not 1 <= question.seconds <= MOST_SECONDS:
        raise Invalid.field("seconds", f"Seconds: 1 to {MOST_SECONDS} would work.")


def _counts(wanted: Sequence[Wanted]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for one in wanted:
        counts[one.blank.code] = counts.get(one.blank.code, 0) + one.count
    return counts

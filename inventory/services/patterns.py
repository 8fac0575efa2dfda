"""Patterns: what a head should be, and which items are made by it."""

import datetime as dt
from collections.abc import Sequence

from inventory.models import Item, Pattern, Run
from inventory.services import catalogue
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

PATTERN_FACTS = frozenset(
    {
        "name", "head_mass_mg", "light_below_mg", "heavy_above_mg", "loss_ppm", "hard_low", "hard_high", "hard_source",
        "aim", "crack_check", "labour_minor_per_hour", "usual_run", "most_run",
    }
)  # fmt: skip


LONGEST_CODE = 20
MOST_RUN = 1_000  # pieces; as the table allows
MADE = frozenset({Item.Kind.BLANK, Item.Kind.HEAD, Item.Kind.HANDLE, Item.Kind.TOOL})


def pattern(code: str) -> Pattern:
    """Return a pattern by its code."""
    found = Pattern.objects.filter(code=code).first()
    if found is None:
        raise NotFound(f"There is no pattern {code[:20]!r}; choose one of the shop's.", {"pattern": "No such pattern."})
    return found


def add_pattern(code: str, name: str, items: Sequence[Item], *, at: dt.datetime, by: Actor) -> Pattern:
    """Add a pattern and say which items are made by it: its head, its blank, the tool; or a handle and its boards."""
    transactions.assert_open()
    catalogue.check_code(code, longest=LONGEST_CODE)
    if Pattern.objects.filter(code=code).exists():
        raise Invalid.field("code", f"Code: pattern {code} exists already; choose another code.")
    if not name.strip():
        raise Invalid.field("name", "Name: write what the pattern is called in the shop.")
    made = Pattern.objects.create(code=code, name=name.strip()[:80])
    audit.write(at=at, by=by.label, action="pattern added", subject=f"pattern {code}", after={"name": name})
    give_items(made, items, at=at, by=by)
    return made


def give_items(of: Pattern, items: Sequence[Item], *, at: dt.datetime, by: Actor) -> None:
    """Say which items are made by a pattern; refused for one that runs were made of by another."""
    transactions.assert_open()
    for item in items:
        if item.kind not in MADE:
            raise Invalid.field("items", f"Items: {item.code} is a {item.kind}; name the blank, the head and the tool.")
        if item.pattern_id not in (None, of.pk) and Run.objects.filter(pattern=item.pattern_id, item=item).exists():
            raise Invalid.field(
                "items", f"Items: {item.code} was made by another pattern; add a new item for this one."
            )
    if not items:
        return
    Item.objects.filter(pk__in=[item.pk for item in items]).update(pattern=of)
    codes = [item.code for item in items]
    audit.write(at=at, by=by.label, action="pattern given items", subject=f"pattern {of.code}", after={"items": codes})


def named_items(codes: str) -> list[Item]:
    """Return the items of these codes, commas or spaces between."""
    wanted = [code for code in codes.upper().replace(",", " ").split() if code]
    found = Item.objects.in_bulk(wanted, field_name="code")
    missing = [code for code in wanted if code not in found]
    if missing:
        raise Invalid.field("items", f"Items: {missing[0][:30]!r} is no item of the book; write codes that are.")
    return [found[code] for code in wanted]


def hold_still(found: Pattern) -> Pattern:
    """Return the pattern as it stands, held still to the end of the transaction."""
    transactions.assert_open()
    return Pattern.objects.select_for_update().get(pk=found.pk)


def change_pattern(made: Pattern, *, at: dt.datetime, by: Actor, **facts: object) -> Pattern:
    """Change what is known of a pattern: its weight, its window of hardness, what it loses on the way."""
    transactions.assert_open()
    unknown = set(facts) - PATTERN_FACTS
    if unknown:
        raise Invalid.field(min(unknown), f"{min(unknown)} of a pattern cannot be changed; choose another field.")
    before = {name: getattr(made, name) for name in facts}
    for name, value in facts.items():
        setattr(made, name, value)
    _check_window(made)
    _check_run(made)
    made.save()
    audit.write(
        at=at, by=by.label, action="pattern changed", subject=f"pattern {made.code}", before=before, after=facts
    )
    return made


def _check_window(made: Pattern) -> None:
    low, high = made.hard_low, made.hard_high
    if (low is None) != (high is None) or (low is not None and high is not None and not 1 <= low <= high <= 700):
        raise Invalid.field("hard_low", "Hardness: write both ends of the published window, 0.1 to 70 HRC, or neither.")
    if low is not None and not made.hard_source:
        raise Invalid.field("hard_source", "Hardness: name the document and edition the window is published in.")
    light, heavy = made.light_below_mg, made.heavy_above_mg
    if light is not None and heavy is not None and light > heavy:
        raise Invalid.field("light_below_mg", "Weight: light ends below where heavy begins; write them the other way.")
    if not 0 <= made.loss_ppm <= 900_000:
        raise Invalid.field(
            "loss_ppm", "Loss: from blank to head nothing to nine tenths is lost; write 11 % for 110000."
        )


def _check_run(made: Pattern) -> None:
    if not 1 <= made.most_run <= MOST_RUN:
        raise Invalid.field("most_run", f"Most of a run: write 1 to {MOST_RUN} pieces.")
    if not 1 <= made.usual_run <= made.most_run:
        raise Invalid.field("usual_run", f"Usual run: write 1 to {made.most_run} pieces, the most a run takes.")

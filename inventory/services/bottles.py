"""Gas bottles as vessels: they come full, are put in, read, run empty and go back with their deposit."""

import datetime as dt
import re
from collections.abc import Sequence

from inventory.calc.bottles import FULL
from inventory.models import Bottle, BottleChange, Entry, Item, Supplier
from inventory.services.ledger import Stamp
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal, Stale

MOST = 50
_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ./-]{0,11}")


class BottleNotHere(Refusal):
    """The bottle has gone back, or is in a state in which this cannot be done."""

    code = "bottle_not_here"


def came(
    item: Item,
    numbers: Sequence[str],
    *,
    stamp: Stamp,
    came_on: dt.date,
    supplier: Supplier | None = None,
    deposit_minor: int = 0,
    quarters: int = FULL,
) -> list[Bottle]:
    """Write down bottles that came, or that stand here already; the gas in them is received or counted as any goods."""
    transactions.assert_open()
    check_item(item)
    if not 1 <= len(numbers) <= MOST:
        raise Invalid.field("numbers", f"Bottles: {len(numbers)} are named; 1 to {MOST} would work.")
    if not 0 <= quarters <= FULL:
        raise Invalid.field("quarters", "How full: 0 to 4 quarters would work.")
    if deposit_minor < 0:
        raise Invalid.field("deposit", "Deposit: an amount of 0 or more would work.")
    found = [_number(one) for one in numbers]
    twice = next((one for one in found if found.count(one) > 1), None)
    if twice:
        raise Invalid.field("numbers", f"Bottles: {twice} is named twice; name each once.")
    here = Bottle.objects.filter(item=item, number__in=found).exclude(state=Bottle.State.BACK).first()
    if here is not None:
        raise Invalid.field("numbers", f"Bottles: {here.number} is here already; read it or send it back first.")
    made = []
    for number in found:
        bottle = Bottle.objects.create(
            number=number, item=item, supplier=supplier, state=_state(quarters), quarters=quarters,
            deposit_minor=deposit_minor, came_on=came_on, changed_at=stamp.at,
        )  # fmt: skip
        _write(bottle, BottleChange.What.CAME, stamp)
        made.append(bottle)
    return made


def check_item(item: Item) -> None:
    """Refuse an item that is not bought by the bottle."""
    if item.buy_unit != "bottle":
        raise Invalid.field("item", f"{item.code} is not bought by the bottle; write bottle as its buying unit first.")


def put_in(bottle: Bottle, *, version: int, stamp: Stamp) -> Bottle | None:
    """Put a bottle in; return the one that was in before, which is empty by that."""
    _here(bottle)
    if bottle.quarters == 0:
        raise BottleNotHere(f"Bottle {bottle.number} is empty; choose one with gas in it.")
    if bottle.in_use:
        raise BottleNotHere(f"Bottle {bottle.number} is in already.")
    before = Bottle.objects.filter(item=bottle.item, in_use=True).first()
    _change(bottle, version, stamp, in_use=True)
    _write(bottle, BottleChange.What.IN, stamp)
    return before


def read(bottle: Bottle, quarters: int, *, version: int, stamp: Stamp, entry: Entry | None = None) -> None:
    """Write down how many quarters are left; `entry` is the use that was booked for what is gone."""
    _here(bottle)
    if not 0 <= quarters <= FULL:
        raise Invalid.field("quarters", "How full: 0 to 4 quarters would work.")
    empty = quarters == 0
    _change(bottle, version, stamp, quarters=quarters, state=_state(quarters), in_use=bottle.in_use and not empty)
    _write(bottle, BottleChange.What.EMPTY if empty else BottleChange.What.READ, stamp, entry)


def back(bottle: Bottle, *, version: int, stamp: Stamp) -> None:
    """Write down that an empty bottle went back to its supplier."""
    _here(bottle)
    if bottle.quarters:
        raise BottleNotHere(f"Bottle {bottle.number} still holds gas; read it empty first, so that the book agrees.")
    _change(bottle, version, stamp, state=Bottle.State.BACK)
    _write(bottle, BottleChange.What.BACK, stamp)


def _state(quarters: int) -> str:
    if quarters == FULL:
        return Bottle.State.FULL
    return Bottle.State.PART if quarters else Bottle.State.EMPTY


def _number(typed: str) -> str:
    number = " ".join(typed.split())
    if not _NUMBER.fullmatch(number):
        raise Invalid.field(
            "numbers", f"Bottles: {typed[:20]!r} is no number; letters, figures and dashes, at most 12, would work."
        )
    return number


def _here(bottle: Bottle) -> None:
    transactions.assert_open()
    bottle.refresh_from_db()
    if bottle.state == Bottle.State.BACK:
        raise BottleNotHere(f"Bottle {bottle.number} went back; write it down anew when it comes again.")


def _change(bottle: Bottle, version: int, stamp: Stamp, **facts: object) -> None:
    rows = Bottle.objects.filter(pk=bottle.pk, version=version).update(
        **facts, changed_at=stamp.at, version=version + 1
    )
    if not rows:
        raise Stale(f"Bottle {bottle.number} was changed meanwhile; look at it again.")
    bottle.refresh_from_db()


def _write(bottle: Bottle, what: str, stamp: Stamp, entry: Entry | None = None) -> None:
    BottleChange.objects.create(
        bottle=bottle, what=what, quarters=bottle.quarters, at=stamp.when, by=stamp.by.label, entry=entry
    )
    audit.write(
        at=stamp.at, by=stamp.by.label, action=f"bottle {what}", subject=f"bottle {bottle.number}",
        after={"item": bottle.item.code, "quarters": bottle.quarters},
    )  # fmt: skip

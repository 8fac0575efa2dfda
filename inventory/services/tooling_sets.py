"""Machines of the shop, the tooling sets that go into them, and what is done to a set."""

import datetime as dt
from collections.abc import Sequence

from inventory.models import Machine, ToolingChange, ToolingSet
from inventory.services import catalogue
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid
from shop.shared.units.pieces import MOST_PIECES

KINDS = ("forge", "hammer", "press", "saw", "grinder", "oven", "bench", "other")
LONGEST_CODE = 20
USUAL_MINUTES = 30  # to change a set; common practice, no source


def add_machine(code: str, name: str, kind: str, *, at: dt.datetime, by: Actor, holds: int = 1) -> Machine:
    """Add a machine of the shop; it `holds` so many jobs at once. Routes name machines by their code."""
    transactions.assert_open()
    catalogue.check_code(code, longest=LONGEST_CODE)
    if Machine.objects.filter(code=code).exists():
        raise Invalid.field("code", f"Machine {code} is in the book already; choose another code.")
    if not name.strip() or len(name) > 60:
        raise Invalid.field("name", "Name: write what the machine is called in the shop, 60 signs at most.")
    if kind not in KINDS:
        raise Invalid.field("kind", f"Kind: {kind[:20]!r} is none of {', '.join(KINDS)}.")
    if not 1 <= holds <= 1_000:
        raise Invalid.field("holds", "Holds: write how many jobs it takes at once, 1 to 1000.")
    made = Machine.objects.create(code=code, name=name.strip(), kind=kind, holds=holds)
    audit.write(at=at, by=by.label, action="machine added", subject=f"machine {code}", after={"name": made.name})
    return made


def add_tooling(
    code: str, name: str, machines: Sequence[Machine], *, at: dt.datetime, by: Actor, change_minutes: int = USUAL_MINUTES,
    dress_at: int | None = None,
) -> ToolingSet:  # fmt: skip
    """Add a tooling set and the machines it spans; it is changed in so many minutes, dressed at so many pieces."""
    transactions.assert_open()
    catalogue.check_code(code, longest=LONGEST_CODE)
    if ToolingSet.objects.filter(code=code).exists():
        raise Invalid.field("code", f"Tooling {code} is in the book already; choose another code.")
    if not name.strip() or len(name) > 80:
        raise Invalid.field("name", "Name: write what the tooling is called in the shop, 80 signs at most.")
    if not machines:
        raise Invalid.field("machines", "Machines: name at least one machine the tooling goes into.")
    if not 0 <= change_minutes <= 10_000:
        raise Invalid.field("change_minutes", "Minutes to change it: write 0 to 10000.")
    if dress_at is not None and not 1 <= dress_at <= MOST_PIECES:
        raise Invalid.field("dress_at", f"Dress at: write 1 to {MOST_PIECES} pieces, or leave it empty.")
    made = ToolingSet.objects.create(code=code, name=name.strip(), change_minutes=change_minutes, dress_at=dress_at)
    made.machines.set(machines)
    audit.write(
        at=at, by=by.label, action="tooling added", subject=f"tooling {code}",
        after={"name": made.name, "machines": sorted(one.code for one in machines)},
    )  # fmt: skip
    return made


def named_machines(codes: str) -> list[Machine]:
    """Return the machines of these codes, commas or spaces between."""
    wanted = list(dict.fromkeys(code for code in codes.upper().replace(",", " ").split() if code))
    found = Machine.objects.in_bulk(wanted, field_name="code")
    missing = [code for code in wanted if code not in found]
    if missing:
        raise Invalid.field("machines", f"Machines: {missing[0][:20]!r} is no machine of the book; add it first.")
    return [found[code] for code in wanted]


def change_tooling(tooling: ToolingSet, what: str, *, at: dt.datetime, by: Actor, note: str = "") -> ToolingChange:
    """Note that a set was put in, dressed, taken out of use or brought back."""
    transactions.assert_open()
    if what not in ToolingChange.What.values:
        raise Invalid.field("what", f"What: {what[:20]!r} is none of {', '.join(ToolingChange.What.values)}.")
    made = ToolingChange.objects.create(tooling=tooling, what=what, at=at, by=by.person, note=note)
    audit.write(
        at=at,
        by=by.label,
        action="tooling changed",
        subject=f"tooling {tooling.code}",
        after={"what": what},
        reason=note,
    )
    return made

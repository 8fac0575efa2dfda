"""Patterns and their routes. A route is never changed: a new version is written, and runs keep the one they were started on."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from inventory.calc import routes_seed
from inventory.calc.routes_seed import SeedStep
from inventory.models import Item, Machine, Pattern, Route, Step, StepCause, StepUse, ToolingChange, ToolingSet
from inventory.queries import along
from shop.access.actor import Actor
from shop.access.models import Person
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

MOST_STEPS = 40


@dataclass(frozen=True, slots=True)
class CauseFacts:
    """A cause of rejects at a step, and what may become of the piece."""

    name: str
    second: bool = False
    rework_to: int | None = None
    handle_only: bool = False


@dataclass(frozen=True, slots=True)
class StepFacts:
    """One step as it is written down: the plain columns of the table, and what hangs on it by code."""

    number: int
    name: str
    columns: Mapping[str, object] = field(default_factory=dict)
    machines: Sequence[str] = ()
    tooling: str = ""
    causes: Sequence[CauseFacts] = ()
    uses: Mapping[str, int] = field(default_factory=dict)
    hands: Sequence[int] = ()


PLAIN = frozenset(
    {
        "work", "stage", "counting_point", "optional", "strike_code", "set_up_minutes", "seconds_each", "spread_percent",
        "people", "fire_batch", "oven_fits", "cure_minutes", "temperature_dc", "soak_minutes", "within_minutes",
        "good_ppm", "prior_pieces", "afresh_from",
    }
)  # fmt: skip
PATTERN_FACTS = frozenset(
    {
        "name", "head_mass_mg", "light_below_mg", "heavy_above_mg", "loss_ppm", "hard_low", "hard_high", "hard_source",
        "aim", "crack_check", "labour_minor_per_hour",
    }
)  # fmt: skip


def pattern(code: str) -> Pattern:
    """Return a pattern by its code."""
    found = Pattern.objects.filter(code=code).first()
    if found is None:
        raise NotFound(f"There is no pattern {code[:20]!r}; choose one of the shop's.", {"pattern": "No such pattern."})
    return found


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


def set_route(of: Pattern, steps: Sequence[StepFacts], *, at: dt.datetime, by: Actor) -> Route:
    """Write a new version of a pattern's route."""
    transactions.assert_open()
    _check_steps(steps)
    last = Route.objects.filter(pattern=of).order_by("-version").first()
    made = Route.objects.create(pattern=of, version=last.version + 1 if last else 1)
    for facts in steps:
        _write_step(made, facts)
    audit.write(
        at=at,
        by=by.label,
        action="route set",
        subject=f"pattern {of.code}",
        after={"version": made.version, "steps": [facts.name for facts in steps]},
    )
    return made


def _check_steps(steps: Sequence[StepFacts]) -> None:
    if not 1 <= len(steps) <= MOST_STEPS:
        raise Invalid.field("steps", f"Steps: a route has 1 to {MOST_STEPS} steps.")
    numbers = [facts.number for facts in steps]
    if numbers != sorted(set(numbers)) or numbers[0] < 1:
        raise Invalid.field("steps", "Steps: number them upwards from 1, no number twice.")
    if not any(facts.columns.get("counting_point") for facts in steps):
        raise Invalid.field("steps", "Steps: mark at least one as a counting point, or nothing can be counted.")
    for facts in steps:
        unknown = set(facts.columns) - PLAIN
        if unknown:
            raise Invalid.field("steps", f"Step {facts.number}: {min(unknown)} is no fact of a step.")
        if facts.columns.get("work") == "temper" and not (
            facts.columns.get("temperature_dc") and facts.columns.get("soak_minutes")
        ):
            raise Invalid.field("steps", f"Step {facts.number}: a temper needs its temperature and its soak.")
        for cause in facts.causes:
            if cause.rework_to is not None and cause.rework_to not in numbers:
                raise Invalid.field(
                    "steps", f"Step {facts.number}: {cause.name} goes back to a step that is not there."
                )


def _write_step(made: Route, facts: StepFacts) -> None:
    tooling = ToolingSet.objects.filter(code=facts.tooling).first() if facts.tooling else None
    if facts.tooling and tooling is None:
        raise Invalid.field("steps", f"Step {facts.number}: there is no tooling {facts.tooling[:20]!r}.")
    step = Step.objects.create(route=made, number=facts.number, name=facts.name, tooling=tooling, **facts.columns)
    machines = list(Machine.objects.filter(code__in=facts.machines))
    if len(machines) != len(set(facts.machines)):
        raise Invalid.field("steps", f"Step {facts.number}: one of its machines is not in the book.")
    step.machines.set(machines)
    step.hands.set(facts.hands)
    StepCause.objects.bulk_create(
        [
            StepCause(step=step, name=c.name, second=c.second, rework_to=c.rework_to, handle_only=c.handle_only)
            for c in facts.causes
        ]
    )
    items = Item.objects.in_bulk(list(facts.uses), field_name="code")
    missing = sorted(set(facts.uses) - set(items))
    if missing:
        raise Invalid.field("steps", f"Step {facts.number}: it uses {missing[0]}, which is no item of the book.")
    StepUse.objects.bulk_create(
        [StepUse(step=step, item=items[code], per_hundred=amount) for code, amount in facts.uses.items()]
    )


SEEDS = {
    "free-hand": routes_seed.FREE_HAND,
    "in series with tooling": routes_seed.SERIES,
    "handles from boards": routes_seed.HANDLES,
}


def seed_route(
    of: Pattern, seed: str, *, at: dt.datetime, by: Actor, new: bool = False, tooling: str = "", tool: bool = True,
    uses: Mapping[str, Mapping[str, int]] | None = None,
) -> Route:  # fmt: skip
    """Write a route to begin with; a head that never gets a handle ends with its check."""
    if seed not in SEEDS:
        raise Invalid.field("seed", f"Route: {seed[:20]!r} is none of {', '.join(SEEDS)}.")
    machines = set(Machine.objects.values_list("code", flat=True))
    steps = [step for step in routes_seed.losses(SEEDS[seed], new=new) if tool or step.stage == Step.Stage.HEAD]
    return set_route(
        of, [_from_seed(step, machines, tooling, (uses or {}).get(step.name, {})) for step in steps], at=at, by=by
    )


_SEED_COLUMNS = PLAIN - {"good_ppm", "prior_pieces", "afresh_from"}


def _from_seed(step: SeedStep, machines: set[str], tooling: str, uses: Mapping[str, int]) -> StepFacts:
    columns = {name: getattr(step, name) for name in _SEED_COLUMNS}
    return StepFacts(
        step.number,
        step.name,
        {**columns, "good_ppm": routes_seed.good_ppm(step)},
        machines=[code for code in step.machines if code in machines],
        tooling=tooling if step.work == Step.Work.FORGE and step.counting_point else "",
        causes=[CauseFacts(c.name, c.second, c.rework_to, c.handle_only) for c in step.causes],
        uses=uses,
    )


def hands(logins: Sequence[str]) -> list[int]:
    """Return the people of these log-in names."""
    found = dict(Person.objects.filter(login__in=logins).values_list("login", "pk"))
    missing = sorted(set(logins) - set(found))
    if missing:
        raise Invalid.field("steps", f"Hands: {missing[0][:40]!r} is nobody of the shop; write log-in names.")
    return [found[login] for login in logins]


def add_machine(code: str, name: str, kind: str, *, at: dt.datetime, by: Actor, holds: int = 1) -> Machine:
    """Add a machine of the shop."""
    transactions.assert_open()
    if not code or Machine.objects.filter(code=code).exists():
        raise Invalid.field("code", f"Machine {code or 'without a code'} cannot be added; choose a code that is free.")
    made = Machine.objects.create(code=code, name=name, kind=kind, holds=holds)
    audit.write(at=at, by=by.label, action="machine added", subject=f"machine {code}", after={"name": name})
    return made


def add_tooling(
    code: str,
    name: str,
    machines: Sequence[Machine],
    *,
    at: dt.datetime,
    by: Actor,
    change_minutes: int = 30,
    dress_at: int | None = None,
) -> ToolingSet:
    """Add a tooling set and the machines it spans."""
    transactions.assert_open()
    if not code or ToolingSet.objects.filter(code=code).exists():
        raise Invalid.field("code", f"Tooling {code or 'without a code'} cannot be added; choose a code that is free.")
    made = ToolingSet.objects.create(code=code, name=name, change_minutes=change_minutes, dress_at=dress_at)
    made.machines.set(machines)
    audit.write(at=at, by=by.label, action="tooling added", subject=f"tooling {code}", after={"name": name})
    return made


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


def count_afresh(of: Pattern, point: str, *, at: dt.datetime, by: Actor) -> Step:
    """Let a counting point learn from now on only: new tooling, a new fire, other steel."""
    transactions.assert_open()
    route = Route.objects.filter(pattern=of).order_by("-version").first()
    step = next((s for s in along.walk(route).points if s.name == point), None) if route else None
    if step is None:
        raise Invalid.field("point", f"Point: {of.code} has no counting point {point[:40]!r}; choose one it has.")
    Step.objects.filter(route__pattern=of, name=point).update(afresh_from=at)
    audit.write(at=at, by=by.label, action="counted afresh", subject=f"pattern {of.code}", after={"point": point})
    step.refresh_from_db()
    return step

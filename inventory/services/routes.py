"""The routes of patterns. A route is never changed: a new version is written, and runs keep the one they were started on."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from inventory.calc import routes_seed
from inventory.calc.routes_seed import SeedStep
from inventory.models import Item, Machine, Pattern, Route, Step, StepCause, StepUse, ToolingSet
from inventory.queries import along
from shop.access.actor import Actor
from shop.access.models import Person
from shop.shared import audit, transactions
from shop.shared.errors import Invalid

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
    uses: Mapping[str, str] | None = None,
) -> Route:  # fmt: skip
    """Write a route to begin with; a head that never gets a handle ends with its check.

    `uses` names the shop's own item by the plain word of the seed: propane, coarse belt.
    """
    if seed not in SEEDS:
        raise Invalid.field("seed", f"Route: {seed[:20]!r} is none of {', '.join(SEEDS)}.")
    machines = set(Machine.objects.values_list("code", flat=True))
    steps = [step for step in routes_seed.losses(SEEDS[seed], new=new) if tool or step.stage == Step.Stage.HEAD]
    return set_route(of, [_from_seed(step, machines, tooling, _used(step, uses or {})) for step in steps], at=at, by=by)


_KEPT_BY = {"piece": "the piece", "mg": "weight", "ul": "volume", "nm": "length"}


def _used(step: SeedStep, named: Mapping[str, str]) -> dict[str, int]:
    """Return what a step uses up of the shop's own items, each in the unit the seed counts in."""
    found = {}
    for use in step.uses:
        item = Item.objects.filter(code=named.get(use.what, "")).first()
        if item is not None and item.unit != use.unit:
            kept = f"{item.code} is kept by {_KEPT_BY[item.unit]}, not by {_KEPT_BY[use.unit]}"
            raise Invalid.field("uses", f"{use.what.capitalize()}: {kept}; choose another item.")
        if item is not None:
            found[item.code] = use.per_hundred
    return found


def seed_words() -> list[str]:
    """Return the words of what the seed routes use up, in the order of the steps."""
    return list(dict.fromkeys(use.what for seed in SEEDS.values() for step in seed for use in step.uses))


def seed_machines() -> list[str]:
    """Return the codes of the machines the seed routes look for."""
    return list(dict.fromkeys(code for seed in SEEDS.values() for step in seed for code in step.machines))


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

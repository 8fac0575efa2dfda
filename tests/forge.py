"""A pattern with its whole route and everything a run of it needs, made through the services."""

import dataclasses
import datetime as dt
from dataclasses import dataclass

from django.db import transaction

from inventory.models import Item, Machine, Melt, OvenLoad, Pattern, Run, RunCount, Step, StepCause, ToolingSet
from inventory.queries import along
from inventory.services import catalogue, patterns, routes, tooling_sets
from inventory.services.count_facts import Reject, Seen
from inventory.services.hafting import Hafted
from inventory.services.hardness import Reading
from inventory.services.ovens import Fire, Into
from inventory.services.routes import CauseFacts, StepFacts
from inventory.services.starting import Start
from shop.flows import floor
from tests import makers
from tests.makers import AT

HOUR = dt.timedelta(hours=1)
FIRST, SECOND, GROUND, HARDEN, TEMPER, CHECKED, HAFTED, OILED, PACKED = range(1, 10)

STEPS = (
    StepFacts(
        FIRST,
        "first forging heat",
        {"counting_point": True, "work": "forge", "seconds_each": 240, "good_ppm": 970_000},
        machines=("HAMMER",),
        tooling="T4",
        causes=(CauseFacts("eye off centre", second=True), CauseFacts("cheek split")),
    ),
    StepFacts(
        SECOND,
        "second forging heat",
        {"counting_point": True, "work": "forge", "seconds_each": 200, "strike_code": True, "good_ppm": 980_000},
        machines=("HAMMER",),
        tooling="T4",
        causes=(CauseFacts("cold shut"),),
    ),
    StepFacts(
        GROUND,
        "ground",
        {"counting_point": True, "work": "grind", "seconds_each": 500, "good_ppm": 990_000},
        causes=(CauseFacts("under weight", second=True),),
    ),
    StepFacts(HARDEN, "harden", {"work": "harden", "within_minutes": 120, "temperature_dc": 8_450}),
    StepFacts(
        TEMPER, "temper", {"work": "temper", "temperature_dc": 2_040, "soak_minutes": 120, "oven_fits": 40},
        machines=("OVEN1",),
    ),
    StepFacts(
        CHECKED,
        "tempered and checked",
        {"counting_point": True, "work": "check", "good_ppm": 970_000},
        causes=(
            CauseFacts("quench crack"),
            CauseFacts("soft face", rework_to=HARDEN),
            CauseFacts("over or under temper", rework_to=TEMPER),
        ),
    ),
    StepFacts(
        HAFTED,
        "hafted",
        {"counting_point": True, "work": "haft", "stage": "tool"},
        causes=(CauseFacts("handle split", handle_only=True), CauseFacts("head spoilt")),
    ),
    StepFacts(OILED, "oiled", {"work": "oil", "stage": "tool", "cure_minutes": 720}),
    StepFacts(
        PACKED,
        "packed",
        {"counting_point": True, "work": "pack", "stage": "tool"},
        causes=(CauseFacts("grain run-out", second=True), CauseFacts("head loose")),
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Forge:
    """A pattern that can be made from blank to tool."""

    pattern: Pattern
    blank: Item
    tool: makers.Tool
    melt: Melt

    @property
    def head(self) -> Item:
        return self.tool.head

    def start(self, qty: int = 28, *, wanted: int | None = 24, at: dt.datetime = AT, melt: Melt | None = None) -> Run:
        """Start a run."""
        with transaction.atomic():
            return floor.start(Start(self.head, self.blank, melt or self.melt, qty, wanted), stamp=makers.stamp(at=at))

    def blanks(self, qty: int, *, melt: Melt | None = None, at: dt.datetime = AT) -> None:
        """Bring in sawn blanks."""
        makers.put_in(self.blank, qty, melt=melt or self.melt, at=at, cost_minor=qty * 310)


def make_machines() -> dict[str, Machine]:
    """Return the machines of the route, made once."""
    made = {}
    with transaction.atomic():
        for code, name, kind in (("HAMMER", "power hammer", "hammer"), ("OVEN1", "oven", "oven")):
            found = Machine.objects.filter(code=code).first()
            made[code] = found or tooling_sets.add_machine(code, name, kind, at=AT, by=makers.actor())
        if not ToolingSet.objects.filter(code="T4").exists():
            tooling_sets.add_tooling(
                "T4", "eye punch and drift", [made["HAMMER"]], at=AT, by=makers.actor(), dress_at=60
            )
    return made


def make_forge(*, blanks: int = 40, handles: int = 40, wedges: int = 100) -> Forge:
    """Make a pattern, its blank, head, handle and tool, with stock for a run."""
    make_machines()
    grade = makers.make_grade()
    with transaction.atomic():
        catalogue.ensure_places()
        pattern = Pattern.objects.create(code=f"CP{makers.next_number()}", name="cross peen 2 lb")
        patterns.change_pattern(
            pattern, at=AT, by=makers.actor(), hard_low=450, hard_high=600, hard_source="ASME B107.54-2001 4.3.1",
            head_mass_mg=907_185,
        )  # fmt: skip
    belt = makers.make_item(Item.Kind.CONSUMABLE, name="grinding belt")
    steps = [dataclasses.replace(one, uses={belt.code: 8}) if one.number == GROUND else one for one in STEPS]
    with transaction.atomic():
        routes.set_route(pattern, steps, at=AT, by=makers.actor())
    blank = makers.make_item(Item.Kind.BLANK, grade=grade, section=makers.make_section(), blank_length_nm=92_075_000, pattern=pattern)  # fmt: skip
    head = makers.make_item(Item.Kind.HEAD, grade=grade, pattern=pattern)
    handle, wedge = makers.make_item(eye_size="1 x 3/4"), makers.make_item(Item.Kind.CONSUMABLE)
    item = makers.make_item(Item.Kind.TOOL)
    with transaction.atomic():
        catalogue.set_recipe(item, {head: 1, handle: 1, wedge: 2}, at=AT, by=makers.actor())
    forge = Forge(pattern, blank, makers.Tool(item, head, handle, wedge), makers.make_melt(grade=grade))
    if blanks:
        forge.blanks(blanks)
    if handles:
        makers.put_in(handle, handles, cost_minor=handles * 500)
    if wedges:
        makers.put_in(wedge, wedges, cost_minor=wedges * 9)
    return forge


def step(run: Run, number: int) -> Step:
    """Return a step of a run's route."""
    found = along.walk(run.route).numbered(number)
    assert found is not None
    return found


def cause(run: Run, name: str) -> StepCause:
    """Return a cause of rejects on a run's route."""
    return StepCause.objects.get(step__route=run.route_id, name=name)


def count(
    run: Run, number: int, good: int, *rejects: Reject, at: dt.datetime = AT, catch_up: bool = False, **seen: object
) -> RunCount:
    """Count a run at a step."""
    with transaction.atomic():
        made, _ = floor.count(
            run, step(run, number), Seen(good, rejects, **seen), stamp=makers.stamp(at=at), catch_up=catch_up
        )  # type: ignore[arg-type]
    return made.count


def harden(run: Run, qty: int, *, at: dt.datetime = AT) -> OvenLoad:
    """Harden pieces of a run with a trial piece."""
    with transaction.atomic():
        return floor.harden(
            [Into(run, qty, "fine grain, file skates")], Fire(8_450, "845 °C"), stamp=makers.stamp(at=at)
        )


def temper(run: Run, qty: int, *, at: dt.datetime = AT, hours: float = 3) -> OvenLoad:
    """Temper pieces of a run, in and out."""
    fire = Fire(2_040, "204 °C", 120, 30, Machine.objects.get(code="OVEN1"))
    with transaction.atomic():
        load = floor.temper_in([Into(run, qty)], fire, stamp=makers.stamp(at=at))
    with transaction.atomic():
        return floor.take_out(load, stamp=makers.stamp(at=at + hours * HOUR))


def check(run: Run, good: int, *rejects: Reject, hrc: int = 530, at: dt.datetime = AT) -> RunCount:
    """Count tempered heads with a crack check and a reading."""
    return count(run, CHECKED, good, *rejects, at=at, crack_checked=True, reading=Reading("rockwell", hrc, hrc))


def haft(forge: Forge, run: Run, good: int, *, lost: int = 0, at: dt.datetime = AT) -> RunCount:
    """Haft heads of a run."""
    with transaction.atomic():
        return floor.haft(run, Hafted(forge.tool.item, Seen(good), lost), stamp=makers.stamp(at=at)).count


def pack(
    run: Run, good: int, *rejects: Reject, at: dt.datetime = AT, early: bool = False, reason: str = ""
) -> RunCount:
    """Pack tools of a run."""
    with transaction.atomic():
        return floor.pack(run, Seen(good, rejects), stamp=makers.stamp(at=at, reason=reason), early=early).count


def whole_life(forge: Forge, qty: int = 28, *, at: dt.datetime = AT) -> Run:
    """Take a run from blanks to packed tools, with a reject here and there."""
    run = forge.start(qty, at=at)
    count(run, FIRST, qty - 1, Reject(1, cause(run, "cheek split")), at=at + HOUR)
    count(run, SECOND, qty - 2, Reject(1), at=at + 2 * HOUR)
    count(run, GROUND, qty - 2, at=at + 4 * HOUR)
    harden(run, qty - 2, at=at + 6 * HOUR)
    temper(run, qty - 2, at=at + 7 * HOUR)
    check(run, qty - 3, Reject(1, cause(run, "quench crack")), at=at + 11 * HOUR)
    haft(forge, run, qty - 3, lost=1, at=at + 24 * HOUR)
    pack(run, qty - 3, at=at + 40 * HOUR)
    return run

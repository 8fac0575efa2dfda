"""How patterns, routes and what is learned of them look in the API."""

from typing import Any

from inventory.models import Pattern, Route, Step
from inventory.queries import along, learned
from inventory.queries.learned import Learned
from shop.api import fields, shapes

CAUSE = shapes.thing(
    name=shapes.TEXT, second=shapes.YES_NO, rework_to=shapes.maybe(shapes.WHOLE), handle_only=shapes.YES_NO
)
USE = shapes.thing(item=shapes.TEXT, per_hundred=shapes.QUANTITY, unit=shapes.UNIT)
STEP = shapes.thing(
    number=shapes.WHOLE,
    name=shapes.TEXT,
    work=shapes.words(*Step.Work.values),
    stage=shapes.words(*Step.Stage.values),
    counting_point=shapes.YES_NO,
    optional=shapes.YES_NO,
    strike_code=shapes.YES_NO,
    set_up_minutes=shapes.WHOLE,
    seconds_each=shapes.WHOLE,
    spread_percent=shapes.WHOLE,
    people=shapes.WHOLE,
    machines=shapes.many(shapes.TEXT),
    tooling=shapes.maybe(shapes.TEXT),
    hands=shapes.many(shapes.TEXT),
    fire_batch=shapes.WHOLE,
    oven_fits=shapes.WHOLE,
    cure_minutes=shapes.WHOLE,
    temperature_celsius=shapes.maybe(shapes.QUANTITY),
    soak_minutes=shapes.WHOLE,
    temper_within_minutes=shapes.WHOLE,
    causes=shapes.many(CAUSE),
    uses=shapes.many(USE),
)
LEARNED = shapes.thing(
    point=shapes.TEXT,
    good=shapes.WHOLE,
    rejected=shapes.WHOLE,
    reworked=shapes.WHOLE,
    good_of_100=shapes.WHOLE,
    between=shapes.many(shapes.WHOLE),
    afresh_from=shapes.maybe(shapes.MOMENT),
)
PATTERN = shapes.thing(
    code=shapes.TEXT,
    name=shapes.TEXT,
    head_weight=shapes.maybe(shapes.MASS),
    light_below=shapes.maybe(shapes.MASS),
    heavy_above=shapes.maybe(shapes.MASS),
    loss_ppm=shapes.WHOLE,
    hardness_from=shapes.maybe(shapes.QUANTITY),
    hardness_to=shapes.maybe(shapes.QUANTITY),
    hardness_source=shapes.TEXT,
    aim=shapes.TEXT,
    crack_check=shapes.YES_NO,
    usual_run=shapes.WHOLE,
    most_run=shapes.WHOLE,
    items=shapes.many(shapes.TEXT),
    route_version=shapes.maybe(shapes.WHOLE),
    steps=shapes.many(STEP),
    learned=shapes.many(LEARNED),
)
_STEP_EXAMPLE: dict[str, Any] = {
    "number": 1, "name": "first forging heat", "work": "forge", "stage": "head", "counting_point": True,
    "optional": False, "strike_code": False, "set_up_minutes": 20, "seconds_each": 200, "spread_percent": 25,
    "people": 1, "machines": ["HAMMER"], "tooling": "T2", "hands": [], "fire_batch": 4, "oven_fits": 0, "cure_minutes": 0,
    "temperature_celsius": None, "soak_minutes": 0, "temper_within_minutes": 0,
    "causes": [{"name": "cheek split", "second": False, "rework_to": None, "handle_only": False}],
    "uses": [{"item": "GAS", "per_hundred": "40823.28", "unit": "g"}],
}  # fmt: skip
PATTERN_EXAMPLE: dict[str, Any] = {
    "code": "CP2", "name": "cross peen 2 lb", "head_weight": {"g": "907.185", "pounds": "2 lb"}, "light_below": None,
    "heavy_above": None, "loss_ppm": 110000, "hardness_from": "45", "hardness_to": "60",
    "hardness_source": "ASME B107.54-2001, 4.3.1", "aim": "52 to 55 HRC", "crack_check": True, "usual_run": 12, "most_run": 60,
    "items": ["CP-2"], "route_version": 1,
    "steps": [_STEP_EXAMPLE],
    "learned": [{"point": "first forging heat", "good": 815, "rejected": 30, "reworked": 0, "good_of_100": 96,
                 "between": [95, 98], "afresh_from": None}],
}  # fmt: skip


def tenths(value: int | None) -> str | None:
    """Return a figure kept in tenths as decimal text."""
    return None if value is None else f"{value / 10:g}"


def pattern_shown(pattern: Pattern) -> dict[str, Any]:
    """Return a pattern with its newest route and what is learned."""
    route = Route.objects.filter(pattern=pattern).order_by("-version").first()
    walk = along.walk(route) if route else None
    return {
        "code": pattern.code,
        "name": pattern.name,
        "head_weight": fields.mass(pattern.head_mass_mg),
        "light_below": fields.mass(pattern.light_below_mg),
        "heavy_above": fields.mass(pattern.heavy_above_mg),
        "loss_ppm": pattern.loss_ppm,
        "hardness_from": tenths(pattern.hard_low),
        "hardness_to": tenths(pattern.hard_high),
        "hardness_source": pattern.hard_source,
        "aim": pattern.aim,
        "crack_check": pattern.crack_check,
        "usual_run": pattern.usual_run,
        "most_run": pattern.most_run,
        "items": list(pattern.items.order_by("code").values_list("code", flat=True)),
        "route_version": route.version if route else None,
        "steps": [step_shown(step) for step in walk.steps] if walk else [],
        "learned": [learned_shown(one) for one in learned.rates(pattern, walk)] if walk else [],
    }


def step_shown(step: Step) -> dict[str, Any]:
    """Return one step."""
    return {
        "number": step.number,
        "name": step.name,
        "work": step.work,
        "stage": step.stage,
        "counting_point": step.counting_point,
        "optional": step.optional,
        "strike_code": step.strike_code,
        "set_up_minutes": step.set_up_minutes,
        "seconds_each": step.seconds_each,
        "spread_percent": step.spread_percent,
        "people": step.people,
        "machines": [machine.code for machine in step.machines.order_by("code")],
        "tooling": step.tooling.code if step.tooling else None,
        "hands": list(step.hands.order_by("login").values_list("login", flat=True)),
        "fire_batch": step.fire_batch,
        "oven_fits": step.oven_fits,
        "cure_minutes": step.cure_minutes,
        "temperature_celsius": tenths(step.temperature_dc or None),
        "soak_minutes": step.soak_minutes,
        "temper_within_minutes": step.within_minutes,
        "causes": [
            {"name": c.name, "second": c.second, "rework_to": c.rework_to, "handle_only": c.handle_only}
            for c in step.causes.order_by("pk")
        ],
        "uses": [
            {
                "item": use.item.code,
                "per_hundred": fields.quantity(use.per_hundred, use.item.unit),
                "unit": fields.unit_name(use.item.unit),
            }
            for use in step.uses.select_related("item").order_by("pk")
        ],
    }


def learned_shown(one: Learned) -> dict[str, Any]:
    """Return what is learned at a counting point."""
    mean, low, high = one.of_hundred
    return {
        "point": one.step.name,
        "good": one.good,
        "rejected": one.rejected,
        "reworked": one.reworked,
        "good_of_100": mean,
        "between": [low, high],
        "afresh_from": fields.moment(one.step.afresh_from),
    }

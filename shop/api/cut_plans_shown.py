"""How a cut plan, a saw and the rules of cutting look in the API."""

from collections.abc import Mapping, Sequence
from typing import Any

from inventory.calc.cut_problem import Level, Order
from inventory.models import Blade, CutPlan, CutPlanLine, CutRules
from shop.api import fields, shapes

STATES = [state.value for state in CutPlan.State]
LEVELS = [level.value for level in Level]
LENGTHS = {Level.LOSS.value, Level.SCRAP.value, Level.LONGEST.value}

BAR = shapes.thing(
    bar=shapes.maybe(shapes.TEXT),
    buy=shapes.maybe(shapes.LENGTH),
    full=shapes.YES_NO,
    length=shapes.LENGTH,
    trim=shapes.LENGTH,
    lines=shapes.many(shapes.WHOLE),
    left=shapes.LENGTH,
    kept=shapes.YES_NO,
)
LEVEL = shapes.thing(
    level=shapes.words(*LEVELS),
    due=shapes.maybe(shapes.DAY),
    value=shapes.TEXT,
    bound=shapes.maybe(shapes.TEXT),
    proven=shapes.YES_NO,
    unit=shapes.TEXT,
)
ANSWER = shapes.thing(
    order=shapes.words(*(order.value for order in Order)),
    bars=shapes.many(BAR),
    missing=shapes.many(shapes.WHOLE),
    levels=shapes.many(LEVEL),
    complete=shapes.YES_NO,
)
LINE = shapes.thing(
    line=shapes.WHOLE,
    blank=shapes.TEXT,
    length=shapes.LENGTH,
    count=shapes.WHOLE,
    due=shapes.maybe(shapes.DAY),
    words=shapes.TEXT,
)
AT_THE_SAW = shapes.thing(
    bar=shapes.TEXT, state=shapes.words("to saw", "sawn", "left alone"), cut=shapes.maybe(shapes.WHOLE)
)
PLAN = shapes.thing(
    number=shapes.WHOLE,
    version=shapes.TEXT,
    state=shapes.words(*STATES),
    steel=shapes.TEXT,
    saw=shapes.maybe(shapes.WHOLE),
    kerf=shapes.LENGTH,
    shortest_remnant=shapes.LENGTH,
    one_mill_heat=shapes.YES_NO,
    seconds=shapes.WHOLE,
    asked_at=shapes.MOMENT,
    lines=shapes.many(LINE),
    buyable=shapes.many(shapes.thing(length=shapes.LENGTH, price=shapes.MONEY)),
    so_far=shapes.maybe(ANSWER),
    answers=shapes.many(ANSWER),
    taken=shapes.maybe(shapes.WHOLE),
    bars=shapes.many(AT_THE_SAW),
)
SAW = shapes.thing(
    id=shapes.WHOLE,
    name=shapes.TEXT,
    kerf=shapes.LENGTH,
    vice_holds=shapes.LENGTH,
    measured_on=shapes.DAY,
)
RULES = shapes.thing(
    version=shapes.TEXT,
    shortest_remnant=shapes.LENGTH,
    mill_end=shapes.LENGTH,
    new_remnant_counts=shapes.LENGTH,
    bar_sawn_counts=shapes.LENGTH,
    full_bar_counts=shapes.LENGTH,
    one_mill_heat=shapes.YES_NO,
)

_NONE = {"mm": "0", "inches": "0 in"}
_TWENTY = {"mm": "6096", "inches": "20 ft"}
_PIECE = {"mm": "92.075", "inches": "3 5/8 in"}
_KERF = {"mm": "1.5875", "inches": "1/16 in"}
ANSWER_EXAMPLE: dict[str, Any] = {
    "order": "one price",
    "bars": [
        {
            "bar": "7KQ4",
            "buy": None,
            "full": True,
            "length": _TWENTY,
            "trim": _NONE,
            "lines": [1, 1],
            "left": {"mm": "5908.675", "inches": "19 ft 4 5/8 in"},
            "kept": True,
        }
    ],
    "missing": [0],
    "levels": [
        {"level": "short", "due": None, "value": "0", "bound": "0", "proven": True, "unit": "piece"},
        {"level": "loss", "due": None, "value": "330", "bound": "330", "proven": True, "unit": "mm"},
    ],
    "complete": True,
}
PLAN_EXAMPLE: dict[str, Any] = {
    "number": 61,
    "version": "2",
    "state": "answered",
    "steel": "B-1045-RD-2IN",
    "saw": None,
    "kerf": _KERF,
    "shortest_remnant": {"mm": "304.8", "inches": "1 ft"},
    "one_mill_heat": True,
    "seconds": 10,
    "asked_at": "2026-03-02T10:20:00Z",
    "lines": [{"line": 1, "blank": "BL-CP2", "length": _PIECE, "count": 2, "due": "2026-03-16", "words": "order 1043"}],
    "buyable": [],
    "so_far": None,
    "answers": [ANSWER_EXAMPLE],
    "taken": None,
    "bars": [],
}
SAW_EXAMPLE: dict[str, Any] = {
    "id": 1,
    "name": "band saw, 34 mm blade",
    "kerf": _KERF,
    "vice_holds": {"mm": "76.2", "inches": "3 in"},
    "measured_on": "2026-03-01",
}
RULES_EXAMPLE: dict[str, Any] = {
    "version": "1",
    "shortest_remnant": {"mm": "304.8", "inches": "1 ft"},
    "mill_end": {"mm": "12.7", "inches": "1/2 in"},
    "new_remnant_counts": {"mm": "100", "inches": "3.937 in"},
    "bar_sawn_counts": {"mm": "30", "inches": "1.181 in"},
    "full_bar_counts": {"mm": "200", "inches": "7.874 in"},
    "one_mill_heat": True,
}


def plan_shown(plan: CutPlan, currency: str) -> dict[str, Any]:
    """Return a cut plan, read with its lines and bars, as far as it has come."""
    return {
        "number": plan.number,
        "version": str(plan.version),
        "state": plan.state,
        "steel": plan.item.code,
        "saw": plan.blade_id,
        "kerf": fields.length(plan.kerf_nm),
        "shortest_remnant": fields.length(plan.min_remnant_nm),
        "one_mill_heat": plan.one_heat,
        "seconds": plan.seconds,
        "asked_at": fields.moment(plan.asked_at),
        "lines": [_line(line) for line in plan.lines.all()],
        "buyable": [
            {"length": fields.length(one["nm"], one["typed"]), "price": fields.money(one["price_minor"], currency)}
            for one in plan.buyable
        ],
        "so_far": _answer(plan.so_far) if plan.so_far else None,
        "answers": [_answer(one) for one in plan.answers],
        "taken": None if plan.chosen is None else plan.chosen + 1,
        "bars": [{"bar": bar.bar.number, "state": bar.state, "cut": bar.cut_id} for bar in plan.bars.all()],
    }


def _line(line: CutPlanLine) -> dict[str, Any]:
    return {
        "line": line.number,
        "blank": line.blank.code,
        "length": fields.length(line.piece_nm),
        "count": line.count,
        "due": fields.day(line.due),
        "words": line.words,
    }


def _answer(kept: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "order": kept["order"],
        "bars": [_bar(row) for row in kept["bars"]],
        "missing": kept["missing"],
        "levels": _levels(kept["standings"]),
        "complete": kept["complete"],
    }


def _bar(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "bar": None if row["bought"] else row["bar"],
        "buy": fields.length(row["length_nm"]) if row["bought"] else None,
        "full": row["full"],
        "length": fields.length(row["length_nm"]),
        "trim": fields.length(row["trim_nm"]),
        "lines": row["pieces"],
        "left": fields.length(row["left_nm"]),
        "kept": row["kept"],
    }


def _levels(standings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return each level in the unit it is counted in; the longest remnant is negative, so that less is better."""
    units = {Level.SHORT.value: "piece", Level.COST.value: "minor unit of the shop's currency"}
    rows = []
    for one in standings:
        length = one["level"] in LENGTHS
        rows.append(
            {
                "level": one["level"],
                "due": one["due"] or None,
                "value": fields.millimetres(one["value"]) if length else str(one["value"]),
                "bound": None
                if one["bound"] is None
                else fields.millimetres(one["bound"])
                if length
                else str(one["bound"]),
                "proven": one["proven"],
                "unit": "mm" if length else units.get(one["level"], "count"),
            }
        )
    return rows


def saw_shown(blade: Blade) -> dict[str, Any]:
    """Return a saw with its blade."""
    return {
        "id": blade.pk,
        "name": blade.name,
        "kerf": fields.length(blade.kerf_nm),
        "vice_holds": fields.length(blade.tail_hold_nm),
        "measured_on": fields.day(blade.measured_on),
    }


def rules_shown(rules: CutRules) -> dict[str, Any]:
    """Return how the shop plans its cuts."""
    return {
        "version": str(rules.version),
        "shortest_remnant": fields.length(rules.min_remnant_nm),
        "mill_end": fields.length(rules.trim_nm),
        "new_remnant_counts": fields.length(rules.remnant_price_nm),
        "bar_sawn_counts": fields.length(rules.handled_price_nm),
        "full_bar_counts": fields.length(rules.full_price_nm),
        "one_mill_heat": rules.one_heat,
    }

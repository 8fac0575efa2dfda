"""The week as it is proposed: operations by day and place, with people, begin and end, tooling, oven loads and waits."""

import datetime as dt
from collections.abc import Collection, Sequence
from typing import Any, Final

from orders.calc.dates import moments
from orders.calc.dates.materials import taken
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Step
from orders.calc.dates.sizing import Start
from orders.calc.dates.state import DAY, Shop
from orders.calc.dates.worktime import WorkTime, of

BENCH: Final = "bench"  # where a step without machines is done
MIDNIGHT: Final = dt.time()


def written(shop: Shop, plan: Plan, days: int) -> dict[str, Any]:
    """Write a plan down.

    Args:
        shop: as it stands.
        plan: proposed for it.
        days: from the first on.

    Returns:
        Days with places with operations in the order they begin, runs that are in them, and runs that get stuck.
    """
    writing, last = _Writing(shop, plan), shop.hours.first_day + dt.timedelta(days=days)
    sheet: dict[str, dict[str, list[dict[str, Any]]]] = {}
    seen = set()
    for group in plan.groups:
        for one in group:
            said = writing.operation(one, group)
            if said["begins"] < last.isoformat():
                place = one.machines[0] if one.machines else BENCH
                sheet.setdefault(said["begins"][:10], {}).setdefault(place, []).append(said)
                seen.add(one.run)
    return {
        "days": [
            {
                "day": day,
                "places": [
                    {"place": place, "operations": sorted(found, key=lambda said: str(said["begins"]))}
                    for place, found in sorted(sheet[day].items())
                ],
            }
            for day in sorted(sheet)
        ],
        "runs": [_run(plan.runs[number]) for number in sorted(seen)],
        "stuck": stuck(shop, plan, {start.product.item for start in plan.runs}),
    }


def stuck(shop: Shop, plan: Plan, items: Collection[str]) -> list[dict[str, Any]]:
    """Name the runs of some items that the plan cannot bring to their end, with the step they stop before and why.

    An item that is not made here and is owed beyond what is there and coming has no run.

    Args:
        shop: as it stands.
        plan: proposed for it.
        items: that are asked about.

    Returns:
        Rows of run, item, number and name of the step, and a sentence's worth of why.
    """
    found: list[dict[str, Any]] = []
    made = {product.item for product in shop.products}
    for item in sorted(set(items) - made - set(shop.buys_from)):
        there = shop.stock.get(item, 0) + sum(one.pieces for one in shop.coming if one.item == item)
        short = sum(line.pieces for line in shop.lines if line.item == item) - there
        if short > 0:
            why = f"{short} short, not made here and not to be bought"
            found.append({"run": None, "item": item, "step": None, "name": None, "why": why})
    done: dict[int, int] = {}
    for one in plan.operations:
        done[one.run] = one.step.number
    for number, start in enumerate(plan.runs):
        at = done.get(number, start.step)
        left = next((step for step in start.product.steps if step.number > at), None)
        if left and start.product.item in items:
            found.append({"run": start.code, "item": start.product.item, "step": left.number, "name": left.name,
                          "why": _why(shop, start, left)})  # fmt: skip
    return found


def _why(shop: Shop, start: Start, step: Step) -> str:
    hands = [one.code for one in shop.people if not step.hands or one.code in step.hands]
    if len(hands) < step.people:
        people = "person" if step.people == 1 else "people"
        return f"it takes {step.people} {people} and {len(hands)} can do it"
    short = [item for item, _ in taken(start, step, start.pieces) if item not in shop.buys_from]
    return f"{' or '.join(short)} runs out and cannot be bought" if short else "the week sheet or its day holds it"


def _run(start: Start) -> dict[str, Any]:
    return {
        "run": start.code,
        "item": start.product.item,
        "pattern": start.product.pattern,
        "pieces": start.pieces,
        "good": start.good,
        "after_step": start.step,
        "planned": start.planned,
        **({"for_shelf": True} if start.shelf else {}),
    }


class _Writing:
    def __init__(self, shop: Shop, plan: Plan) -> None:
        self.shop, self.plan = shop, plan
        self.time: WorkTime = of(shop.hours, shop.horizon_days)

    def operation(self, one: Operation, group: Sequence[Operation]) -> dict[str, Any]:
        """Write one operation; moments are local, of minutes of work at the mean."""
        start, step = self.plan.runs[one.run], one.step
        coming = [self.shop.coming[number] for number in one.comes]
        said: dict[str, Any] = {
            "run": start.code,
            "item": start.product.item,
            "step": step.number,
            "name": step.name,
            "pieces": round(moments.pieces_at(start, step), 1),
            "people": list(one.people),
            "machines": list(one.machines),
            "begins": self._moment(moments.begins(self.time, one.begins)),
            "ends": self._moment(self.time.clock_at(one.ends)),
            "set_up": one.set_up,
            "tooling": step.tooling,
            "change": one.change != "",
            "waits_for": one.why,
            "pinned": one.pinned,
            "comes": [{"item": it.item, "day": self._moment(it.day * DAY)[:10]} for it in coming],
            "buys": list(one.buys),
        }
        if step.oven:
            said["oven"] = self._load(one, group)
        return said

    def _load(self, one: Operation, group: Sequence[Operation]) -> dict[str, Any]:
        """Write the loads: what goes in together, how many loads, from the first door shut to the last door open."""
        load = moments.load_of(self.time, self.plan, group)
        together = [self.plan.runs[other.run].code for other in group]
        return {"kind": one.step.oven.kind if one.step.oven else "", "together": together, "loads": load.loads,
                "shut": self._moment(load.shut), "open": self._moment(load.open)}  # fmt: skip

    def _moment(self, minute: int) -> str:
        day, rest = divmod(minute, DAY)
        date = self.shop.hours.first_day + dt.timedelta(days=day)
        return f"{dt.datetime.combine(date, MIDNIGHT) + dt.timedelta(minutes=rest):%Y-%m-%dT%H:%M}"

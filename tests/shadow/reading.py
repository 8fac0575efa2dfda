"""A manager's sheet, read against the shop: refused with ValueError where it asks for what nobody could do."""

from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.shadow.bunches import Bunch, State
from tests.shadow.facts import Facts, Soak, Work
from tests.shadow.sight import NewRun, Sheet, Task


@dataclass(slots=True)
class DayOrders:
    """A sheet without what is done, begun or gone already; the heads are what comes next."""

    lists: dict[str, deque[Task]] = field(default_factory=dict)
    crews: dict[Task, tuple[str, ...]] = field(default_factory=dict)
    loads: deque[tuple[Task, ...]] = field(default_factory=deque)
    machines: dict[str, deque[Task]] = field(default_factory=dict)


def check_new(facts: Facts, run: NewRun, used: Mapping[str, Bunch], free: Mapping[str, int]) -> None:
    """Refuse a run that cannot be opened."""
    pattern = facts.pattern(run.pattern)
    if run.code in used:
        raise ValueError(f"the code {run.code} was used before")
    if not 1 <= run.blanks <= pattern.most:
        raise ValueError(f"{run}: 1 to {pattern.most} pieces go through the oven at once")
    if run.blanks > free[pattern.blank]:
        raise ValueError(f"{run}: {free[pattern.blank]} blanks are there")


def read(facts: Facts, bunches: Mapping[str, Bunch], sheet: Sheet, going_on: set[Task]) -> DayOrders:
    """Read a sheet.

    Args:
        facts: of the shop.
        bunches: every run ever opened, by its code.
        sheet: of this morning; its new runs are among the bunches.
        going_on: begun tasks that go on today by themselves.
    """
    orders = DayOrders()
    benches = {person.name: person.benches for person in facts.people}
    for name, tasks in sheet.lists.items():
        if name not in benches:
            raise ValueError(f"nobody is called {name}")
        if len(set(tasks)) < len(tasks):
            raise ValueError(f"{name} has a task twice")
        mine = deque(task for task in tasks if _is_to_do(bunches, task) and task not in going_on)
        for task in mine:
            bench = _work(bunches, task).bench
            if bench not in benches[name]:
                raise ValueError(f"{name} cannot work at {bench}: {task}")
            orders.crews[task] = (*orders.crews.get(task, ()), name)
        orders.lists[name] = mine
    _check_crews(bunches, orders)
    orders.loads.extend(_read_load(bunches, load) for load in sheet.loads)
    for machine, tasks in sheet.machines.items():
        orders.machines[machine] = _read_order(bunches, machine, tasks, orders)
    return orders


def _is_to_do(bunches: Mapping[str, Bunch], task: Task) -> bool:
    if task.run not in bunches:
        raise ValueError(f"no run {task.run}")
    bunch = bunches[task.run]
    if not 0 <= task.step < len(bunch.pattern.route):
        raise ValueError(f"the route of {task.run} has no step {task.step}")
    return bunch.state is not State.GONE and task.step >= bunch.step


def _work(bunches: Mapping[str, Bunch], task: Task) -> Work:
    card = bunches[task.run].pattern.route[task.step]
    if not isinstance(card, Work):
        raise ValueError(f"{task} is no work for people")  # noqa: TRY004 - a sheet that cannot be done
    return card


def _is_begun(bunches: Mapping[str, Bunch], task: Task) -> bool:
    bunch = bunches[task.run]
    return bunch.job is not None and bunch.step == task.step


def _check_crews(bunches: Mapping[str, Bunch], orders: DayOrders) -> None:
    """Refuse a task on too few or too many lists; where it was begun, such lists leave it to those who began it."""
    for task, crew in list(orders.crews.items()):
        people = _work(bunches, task).people
        if len(crew) == people:
            continue
        if not _is_begun(bunches, task):
            raise ValueError(f"{task} takes {people} and stands on {len(crew)} lists")
        del orders.crews[task]
        for name in crew:
            orders.lists[name].remove(task)


def _read_load(bunches: Mapping[str, Bunch], load: tuple[Task, ...]) -> tuple[Task, ...]:
    settings = set()
    for task in load:
        if task.run not in bunches:
            raise ValueError(f"no run {task.run}")
        route = bunches[task.run].pattern.route
        card = route[task.step] if 0 <= task.step < len(route) else None
        if not isinstance(card, Soak):
            raise ValueError(f"{task} is no step of the oven")  # noqa: TRY004 - a sheet that cannot be done
        settings.add((card.temperature, card.soak))
    if len(settings) > 1:
        raise ValueError(f"a load has one temperature and one soak: {load}")
    if max(Counter(task.run for task in load).values(), default=1) > 1:
        raise ValueError(f"a run is in a load twice: {load}")
    return load


def _read_order(bunches: Mapping[str, Bunch], machine: str, tasks: tuple[Task, ...], orders: DayOrders) -> deque[Task]:
    listed = {task for task in orders.crews if machine in _work(bunches, task).machines}
    to_begin = {task for task in listed if not _is_begun(bunches, task)}
    kept = deque(task for task in tasks if task in to_begin)
    unknown = [task for task in tasks if task not in listed and _is_to_do(bunches, task)]
    unknown = [task for task in unknown if not _is_begun(bunches, task)]
    if unknown or set(kept) != to_begin or len(kept) > len(to_begin):
        raise ValueError(f"the order at {machine} and the lists name different tasks")
    return kept

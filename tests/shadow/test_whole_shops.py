"""Half years of drawn shops, both worlds, under the plain manager: whatever happens, the rules of the floor hold."""

from collections import Counter, defaultdict
from itertools import pairwise
from math import ceil

import pytest

from tests.shadow.facts import DAY, OVEN, Cure, Soak, Step, Work
from tests.shadow.hand_built import Lived, live
from tests.shadow.laws import FOLLOWS_THE_LAWS, HIDDEN
from tests.shadow.past import History, Stint
from tests.shadow.sight import Task
from tests.shadow.truths import Shop

CASES = [(seed, laws) for laws in (FOLLOWS_THE_LAWS, HIDDEN) for seed in range(8)]


@pytest.fixture(params=CASES, ids=lambda case: f"{case[1].name}-{case[0]}")
def lived(request: pytest.FixtureRequest) -> Lived:
    return live(*request.param)


def card_of(shop: Shop, history: History, task: Task) -> Step:
    """Return the step of a task."""
    name = next(run.pattern for run in history.runs if run.code == task.run)
    return shop.facts.pattern(name).route[task.step]


def work_of(shop: Shop, history: History, stint: Stint) -> Work:
    """Return the card of a stint."""
    card = card_of(shop, history, stint.task)
    assert isinstance(card, Work)
    return card


def test_nothing_appears_or_vanishes(lived: Lived) -> None:
    """Blanks, handles and tools: what lay there and came in is what lies there, went into runs or to lines, or is scrap."""
    shop, history, _ = lived
    there, left = Counter(shop.stock), Counter(dict(history.stock))
    for arrival in history.arrivals:
        there[arrival.item] += arrival.good
    old = {run.code for run in shop.opening}
    for run in history.runs:
        pattern = shop.facts.pattern(run.pattern)
        assert run.blanks == sum(run.scrap) + (run.after[-1] if run.after else run.blanks)
        assert all(lost >= 0 for lost in run.scrap)
        left[pattern.blank] += run.blanks if run.code not in old else 0
        there[run.pattern] += run.after[-1] if len(run.after) == len(pattern.route) else 0
    for task in {one.task for one in history.stints}:
        run = next(run for run in history.runs if run.code == task.run)
        card = shop.facts.pattern(run.pattern).route[task.step]
        if isinstance(card, Work) and card.uses:
            left[card.uses] += run.after[task.step - 1]
    for line in history.lines:
        left[line.line.pattern] += line.given
        assert (line.given == line.line.qty) == (line.done is not None)
    assert +there == +left


def test_no_person_and_no_machine_does_two_things_at_once(lived: Lived) -> None:
    _, history, _ = lived
    until: dict[str, int] = {}
    for stint in sorted(history.stints, key=lambda one: one.began):
        for who in (*stint.people, *stint.machines):
            assert until.get(who, 0) <= stint.began
            until[who] = stint.ended


def test_people_work_only_while_open_and_here_and_at_what_they_can(lived: Lived) -> None:
    shop, history, _ = lived
    calendar, people = shop.facts.calendar, {person.name: person for person in shop.facts.people}
    out = {(one.person, one.day) for one in history.days_out}
    out |= {(person.name, day) for person in people.values() for day in person.leave}
    down = {(one.machine, one.day) for one in history.days_down}
    for stint in history.stints:
        day, minute = divmod(stint.began, DAY)
        card = work_of(shop, history, stint)
        assert calendar.is_open(day)
        assert calendar.opens <= minute < stint.ended - day * DAY <= calendar.shuts
        assert not {(who, day) for who in stint.people} & out
        assert not {(machine, day) for machine in stint.machines} & down
        assert all(card.bench in people[who].benches for who in stint.people)
        assert (len(set(stint.people)), stint.machines) == (card.people, card.machines)


def test_the_oven_is_never_over_full_and_holds_one_load_of_one_setting(lived: Lived) -> None:
    shop, history, _ = lived
    loads = sorted((one for one in history.waits if one.oven), key=lambda one: one.began)
    down = {one.day for one in history.days_down if one.machine == OVEN}
    assert loads
    assert all(before.ended <= after.began for before, after in pairwise(loads))
    for load in loads:
        cards = [card for task in load.tasks if isinstance(card := card_of(shop, history, task), Soak)]
        filled = sum(card.share * pieces for card, pieces in zip(cards, load.pieces, strict=True))
        assert load.share == pytest.approx(filled)
        assert filled <= 1 + 1e-9
        assert len({(card.temperature, card.soak) for card in cards}) == 1
        assert load.ended - load.began == cards[0].soak + max(card.heat_up for card in cards)
        assert load.began // DAY not in down
        shuts = load.began // DAY * DAY + shop.facts.calendar.shuts
        assert load.began < shuts
        assert shop.facts.unattended or load.ended <= shuts


def test_a_run_goes_through_its_steps_in_order_and_cures_begin_by_themselves(lived: Lived) -> None:
    shop, history, _ = lived
    spans: dict[Task, list[tuple[int, int]]] = defaultdict(list)
    for stint in history.stints:
        spans[stint.task].append((stint.began, stint.ended))
    for wait in history.waits:
        for task in wait.tasks:
            spans[task].append((wait.began, wait.ended))
    over_night = 0
    for task, mine in spans.items():
        before = spans.get(Task(task.run, task.step - 1))
        if before:
            assert before[-1][1] <= mine[0][0]
        card = card_of(shop, history, task)
        if isinstance(card, Cure):
            assert mine[0][1] - mine[0][0] == card.minutes
            assert not before or before[-1][1] == mine[0][0]
            over_night += mine[0][0] // DAY < mine[0][1] // DAY
    assert over_night


def test_tooling_is_in_before_a_step_begins_and_each_change_costs_its_set_up_once(lived: Lived) -> None:
    shop, history, _ = lived
    is_in = {machine: shop.tooling.get(machine, "") for machine in shop.facts.machines}
    changes = defaultdict(list)
    for change in history.changes:
        changes[change.task, change.minute].append(change)
    owed: dict[Task, int] = {}
    for stint in sorted(history.stints, key=lambda one: one.began):
        card = work_of(shop, history, stint)
        changed = changes.pop((stint.task, stint.began), [])
        for change in changed:
            assert change.machine in card.machines
            assert (is_in[change.machine], change.now_in) == (change.was_in, card.tooling)
            is_in[change.machine] = card.tooling
        if not card.tooling:
            continue
        assert {is_in[machine] for machine in card.machines} == {card.tooling}
        if changed:
            owed[stint.task] = ceil(card.set_up / shop.facts.share - 1e-9)
        spent = min(owed.get(stint.task, 0), stint.ended - stint.began)
        assert stint.set_up == spent
        owed[stint.task] = owed.get(stint.task, 0) - spent
    assert not changes
    assert owed


def test_everybody_begins_what_the_list_says_in_its_order_and_nothing_else(lived: Lived) -> None:
    _, history, noted = lived
    nothing_left = {run.code for run in history.runs if run.ended is not None and not run.after[-1]}
    done: set[Task] = set()
    by_day: dict[int, list[Stint]] = defaultdict(list)
    for stint in sorted(history.stints, key=lambda one: one.began):
        by_day[stint.began // DAY].append(stint)
    for seen, sheet in noted:
        today = by_day[seen.day]
        for name, tasks in sheet.lists.items():
            begun = [one.task for one in today if name in one.people and one.task not in done]
            to_do = [task for task in tasks if task in begun or task.run not in nothing_left]
            assert begun == to_do[: len(begun)]
        done |= {one.task for one in today}


def test_nobody_waits_a_minute_longer_than_for_people_machines_or_pieces(lived: Lived) -> None:
    """Work begins as the shop opens, or as its crew, its machines or its pieces come free: whichever is last."""
    shop, history, _ = lived
    freed: dict[str, int] = {}
    ends = {(one.task.run, one.task.step): one.ended for one in history.stints}
    ends |= {(task.run, task.step): one.ended for one in history.waits for task in one.tasks}
    skipped = {run.ended for run in history.runs if run.ended is not None and not run.after[-1]}
    for stint in sorted(history.stints, key=lambda one: one.began):
        opens = stint.began // DAY * DAY + shop.facts.calendar.opens
        causes = [freed.get(who, 0) for who in (*stint.people, *stint.machines)]
        causes += [opens, ends.get((stint.task.run, stint.task.step - 1), 0)]
        assert stint.began == max(causes) or stint.began in skipped
        freed |= dict.fromkeys((*stint.people, *stint.machines), stint.ended)


def test_the_manager_sees_what_is_there(lived: Lived) -> None:
    """Under laws without wrong counts what was told of every run is what its history says."""
    shop, history, noted = lived
    truth = {run.code: run for run in history.runs}
    assert [seen.open_days for seen, _ in noted] == list(range(len(noted)))
    for seen, _ in noted:
        assert shop.facts.calendar.is_open(seen.day)
        assert seen.minute == seen.day * DAY + shop.facts.calendar.opens
        for run in seen.runs:
            told, true = run.after, truth[run.code].after[: len(run.after)]
            if shop.laws.miscount_share:
                assert all(abs(one - other) <= 1 for one, other in zip(told, true, strict=True))
            else:
                assert told == true
        assert {one.day for one in seen.days_out} <= set(range(seen.day + 1))
        assert all(line.asked <= seen.day and 0 < line.owed <= line.qty for line in seen.owed)


def test_the_records_tell_what_happened() -> None:
    shop, history, _ = live(*CASES[0])
    for count in history.counts:
        run = next(run for run in history.runs if run.code == count.run)
        assert count.good == run.after[count.step]
        assert count.entered - count.good == run.scrap[count.step]
    minutes = Counter[Task]()
    for stint in history.stints:
        minutes[stint.task] += stint.ended - stint.began - stint.set_up
    for timing in history.timings:
        assert timing.minutes == pytest.approx(minutes[Task(timing.run, timing.step)] * shop.facts.share)


def test_the_plain_manager_serves_most_lines_of_most_shops() -> None:
    """A judge whose shops drown in work would judge nobody: lines of the first 20 weeks are nearly all sent in 26."""
    lines = [line for case in CASES[:8] for line in live(*case)[1].lines if line.line.asked < 140]
    assert sum(line.carried is not None for line in lines) > 0.97 * len(lines)

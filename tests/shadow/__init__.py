"""The shadow shop: a small forge simulated event by event, to judge ship dates that something else worked out.

It imports nothing of `orders`, `inventory`, `shop` or django (an import contract sees to it) and shares no code, no
state words and no author with the date calculator. A test draws a shop, runs it under a manager and compares the dates
the manager gave with the days the carrier really took the lines:

    shop = draw_shop(seed=7, laws=FOLLOWS_THE_LAWS, weeks=26)
    history = simulate(shop, by_order_of_promise(shop.facts))        # or an adapter of your own
    for past in history.lines:
        print(past.line.order, past.line.number, past.line.asked, past.done, past.carried)

A manager is any object with `morning(seen: Seen) -> Sheet`. It is asked on every open day at the opening minute, before
work, also when nobody is there. It may read `shop.facts` (what everybody knows) and what it is shown (`Seen`); `shop.steps`,
`shop.sick`, `shop.breakdown`, `shop.supplies`, `shop.lines` and `shop.laws` are the truth and not for managers. A new line
(`owed` with `asked == seen.day`) is the moment to give a date: lines are served in the order asked, so whatever stands
before it in `seen.owed` is promised already. Keep the date in the manager; the simulation does not know it.

Units and numbers
    Day numbers: day 0 is a Monday, day d has weekday `d % 7` (0 Monday); weeks are `d // 7`.
    Minutes on the clock (`minute`, `since`, `ready`, `until`, `began`, `ended`, `done`): counted from the midnight that
    begins day 0, so `minute = day * 1440 + minute of the day`. All are whole. `opens`, `shuts`, `cut_off` are minutes of a day.
    Work minutes (cards, `Timing`, `Begun`): minutes of production. Open minutes = work minutes / `facts.share`, rounded up
    to whole ones per task; set-up and pieces are rounded apart. A task of 10 pieces at 6.5 with share 0.65 takes 100 minutes
    of the clock while the shop is open.
    Elapsed minutes (soak, heat-up, cure): minutes of the clock, nights, Sundays and holidays too.
    Step number k is `route[k]`, from 0. `after[k]` are the pieces that came out of step k, so `len(after)` is the number of
    the next step and `pieces` is what comes to it. For a run in the oven or curing, `len(after)` is that very step,
    `ready` the minute it ends.
    Items: `stock` is keyed by the names of blanks, handles (`Pattern.blank`, `Work.uses`) and patterns (finished tools).

What happens, in this order, on an open morning: who is ill and what is down today is settled for the whole day; deliveries
come; wrong counts that are due are corrected; the lines asked for since the last open day join the queue; the manager is
asked; purchases go out; new runs are opened and take their blanks; lines take free tools; work begins.

The rules of the floor
    A run moves whole from step to step; the next step begins when the one before has ended for all pieces.
    Each person does the tasks of the list strictly in order and waits, all day if need be, until the head of the list can
    begin: its pieces lie there, all its machines are free and up, the other people it takes are here, idle and have it at
    the head of their lists too, and handles are there for all its pieces. Heads of runs that have come to an end are
    skipped. What stands on no list is not done. A list is for one day: the next sheet replaces it.
    A task for n people stands on exactly n lists. A list of somebody who is out is allowed and does nothing; what it shares
    with others cannot begin.
    Work not finished at closing goes on the next morning before anything on the lists, by the same people, if all of them
    are here and its machines are up; leave it off the lists or not, as you like. If not, it rests: pieces and minutes are
    kept, machines and people are free for others. While it rests it is a task like others: people who have it on their
    lists take it over when its machines are up, and whoever has it at the head of his list waits for that.
    Where two tasks want a machine, the one that can begin first has it; in the same minute the person who stands earlier
    in `Sheet.lists`. Name a machine in `Sheet.machines` to fix the order in which tasks begin on it: all tasks of the
    lists that need it must stand there, and the machine waits for the next of them.
    Tooling stays in on a machine until another set is put in. A task whose set is in on all its machines sets up nothing;
    otherwise it costs the whole set-up. A step without tooling sets up each time.
    The oven takes `Sheet.loads` strictly in order: a load waits until all its runs lie there, at least one person is here
    and, unless `facts.unattended`, until it would end by closing time; it takes no minutes of anybody. Runs that turn out
    too many for the oven are left out from the end of the load. A load in the oven ends whatever breaks down.
    A cure begins by itself as the step before ends. Good pieces are drawn at the steps with a `belief`; a run that has
    none left ends. After the last step pieces are on the shelf and go to lines in the order asked, each served whole
    before the next of that pattern gets any; `LinePast.done` is the minute it is whole, `carried` the first day the carrier
    comes with `done` not after his cut-off.
    Breakdowns and illnesses begin with the day; a machine that is down says when it works again, a person does not.
    A purchase comes on the first open day at or after the promised day plus its lateness, never early; handles are sorted
    as they come.
    What cannot be done raises ValueError that says why: a code used twice, more blanks than are there, more pieces than
    the oven holds at once (`Pattern.most`), a person at a bench he does not know, too few lists for a task, a load of two
    temperatures, a purchase sooner than the lead or not in packs.

Beliefs in `Facts` are those the truths were drawn from (`laws`), so under FOLLOWS_THE_LAWS a manager who updates them
with the records of `Seen` is told nothing wrong. The default manager's `runs_to_open` and `purchases` can be used by an
adapter that only plans the day or only gives dates. Figures asked of a shop at its end are not whole yet: draw more weeks
than you judge (say 34 for 26) and leave out lines asked later.

Modules: `laws` (constants, committed before any calibration), `facts`, `truths`, `sight` (Seen, Sheet), `past` (History);
`drawing`, `cards`, `trade` draw a shop; `streams`, `fates` are its luck; `stores`, `bunches`, `reading`, `floor`, `hands`,
`mornings` run it; `plain_manager`, `nominal_day` are the default manager.
"""

from tests.shadow.drawing import draw_shop
from tests.shadow.facts import OVEN, Calendar, Carrier, Cure, Facts, Pattern, Person, Soak, Supply, Work
from tests.shadow.laws import FOLLOWS_THE_LAWS, HIDDEN, Laws
from tests.shadow.mornings import simulate
from tests.shadow.past import History
from tests.shadow.plain_manager import by_order_of_promise, purchases, runs_to_open
from tests.shadow.sight import Manager, NewRun, Purchase, Seen, Sheet, Task
from tests.shadow.truths import Line, OpeningRun, Shop, StepTruth, SupplyTruth

__all__ = [
    "FOLLOWS_THE_LAWS",
    "HIDDEN",
    "OVEN",
    "Calendar",
    "Carrier",
    "Cure",
    "Facts",
    "History",
    "Laws",
    "Line",
    "Manager",
    "NewRun",
    "OpeningRun",
    "Pattern",
    "Person",
    "Purchase",
    "Seen",
    "Sheet",
    "Shop",
    "Soak",
    "StepTruth",
    "Supply",
    "SupplyTruth",
    "Task",
    "Work",
    "by_order_of_promise",
    "draw_shop",
    "purchases",
    "runs_to_open",
    "simulate",
]

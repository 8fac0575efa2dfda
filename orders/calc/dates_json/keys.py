"""Every key of a shop's state: what it means, in words for the help, and how its value is read.

The keys are the fields of `dates.state` and `dates.route` under their own names; a test compares them. Days and times of day are written as
such outside and counted inside.
"""

from collections.abc import Mapping
from typing import Any, Final

from orders.calc.dates.chance import KINDS, Law
from orders.calc.dates.route import MOST_SPREAD, Fire, Oven, Product, Step
from orders.calc.dates.state import Batch, Coming, ForShelf, Hours, Line, Machine, Person, Pin, Spells, Supplier
from orders.calc.dates_json.values import (
    WEEKDAYS,
    Frame,
    Key,
    clock,
    date,
    day,
    day_to_come,
    each,
    flag,
    made,
    many,
    maybe_text,
    moment,
    none_or,
    number,
    one_of,
    text,
    then,
    whole,
)

Keys = Mapping[str, Key]

# Limits: No source; above them a slip of the pen is likelier than a forge, or the answer would take minutes.
MINUTES: Final = 100_000.0
PIECES: Final = 1_000  # of a run, a batch, a line: the calculator draws no more at once
STOCK: Final = 1_000_000_000
MOST_LINES: Final = 2_000
MOST_RUNS: Final = 500
MOST_STEPS: Final = 60
MOST_DAYS: Final = 800
MOST_NAMES: Final = 20_000  # items in stock
SURE: Final = (0.01, 0.999)

_NAMES = many(text, 100)
_WEEKDAYS = then(many(one_of(*WEEKDAYS), 7, least=1), lambda days: tuple(sorted({WEEKDAYS.index(one) for one in days})))
_DAYS_TO_COME = then(many(day, 2_000), lambda days: frozenset(one for one in days if one >= 0))

HOURS: Keys = {
    "first_day": Key("the first day, such as 2026-12-01; everything is looked at as it stands on it", date),
    "weekdays": Key('days the shop is open, of "Mon" to "Sun" (Monday to Friday)', _WEEKDAYS),
    "opens": Key("time of day (08:00)", clock),
    "closes": Key("time of day (17:00)", clock),
    "production": Key(
        "share of the open day that is production: an hour of work takes an hour over it (0.65)", number(0.05, 1)
    ),
    "closed": Key("holidays and days of shutdowns: a list of days (none)", then(many(date, 2_000), frozenset)),
    "carrier_weekdays": Key("days a carrier comes (Monday to Friday)", _WEEKDAYS),
    "carrier_cutoff": Key("what is packed by then goes the same day (15:00)", clock),
}
SPELLS: Keys = {
    "chance": Key("chance for each open day that a spell begins (0)", none_or(1e-6, 0.999)),
    "lasts": Key("open days that spells on record lasted, each as likely ([1])", many(whole(1, 1_000), 2_000, least=1)),
}
PERSON: Keys = {
    "code": Key("a name", text),
    "out": Key("days away that are known (none)", _DAYS_TO_COME),
    "ill": Key("{chance, lasts} of spells of illness (never)", made(Spells, SPELLS)),
    "ill_for": Key(
        "open days of a spell of illness that goes on, the first day counted (0: is there)", whole(0, 2_000)
    ),
}
MACHINE: Keys = {
    "code": Key("a name that no person has", text),
    "down": Key("days down that are known (none)", _DAYS_TO_COME),
    "breaks": Key("{chance, lasts} of breakdowns (never)", made(Spells, SPELLS)),
    "busy": Key("moment until which something is in it (free)", moment),
}
LAW: Keys = {
    "kind": Key(
        f"{', '.join(KINDS)}: factors to the minutes; lognormal, gamma and normal have the mean 1", one_of(*KINDS)
    ),
    "numbers": Key(
        "a list: lognormal its log spread, gamma its shape, normal its spread, triangular and pert least, likeliest and"
        " most, counted the factors that were counted, each as likely",
        many(number(0, 1_000), 1_000, least=1),
    ),
}
_NUMBERS: Final = {"lognormal": (0.0, 3.0), "normal": (0.0, 3.0), "gamma": (0.01, 1_000.0)}  # No source: see above


def _law(value: Any, where: str, frame: Frame) -> Law:
    law: Law = made(Law, LAW)(value, where, frame)
    number(*_NUMBERS.get(law.kind, (0, 1_000)))(law.numbers[0], f"{where}.numbers[0]", frame)
    return law


FIRE: Keys = {
    "batch": Key("pieces the fire takes at once", whole(1, PIECES)),
    "minutes": Key("until a batch is hot", number(0, MINUTES)),
}
OVEN: Keys = {
    "share": Key("of the oven that one piece takes", number(0.0001, 1)),
    "heat_up": Key("minutes until the load is at temperature", whole(0, int(MINUTES))),
    "soak": Key("minutes at temperature", whole(0, int(MINUTES))),
    "kind": Key("names the temperature; pieces of one kind and soak go in together", text),
    "unattended": Key("true: the load may run on after closing (false)", flag),
}
STEP: Keys = {
    "number": Key("whole, upwards along the route", whole(1, 1_000_000)),
    "name": Key("a name", text),
    "minutes": Key("for one piece, by the clock, of all who work at it together (0)", number(0, MINUTES)),
    "varies": Key("{kind, numbers}: how the minutes vary from run to run (not at all)", _law),
    "unsure": Key("log spread of the mean itself, the same for all runs of a pattern (0)", number(0, MOST_SPREAD)),
    "set_up": Key("minutes before the first piece of every run (0)", number(0, MINUTES)),
    "tooling": Key("the set of tooling the step needs (none)", maybe_text),
    "change": Key("minutes to put that tooling in where it is not in (0)", number(0, MINUTES)),
    "people": Key("how many it takes at once (1)", whole(0, 20)),
    "hands": Key("codes of those who can do it (everybody)", _NAMES),
    "machines": Key("codes of machines, all held at once (none)", many(text, 20)),
    "good": Key("of a counting point: good pieces counted, a prior among them (0: nothing is counted)", none_or(0.001, 1e6)),
    "bad": Key("the same for rejects", none_or(0.001, 1e6)),
    "rework": Key("share of the rejects that are worked over once (0)", number(0, 1)),
    "rework_minutes": Key("for each of them (0)", number(0, MINUTES)),
    "cure": Key("elapsed minutes, nights and Sundays too, until the next step may begin (0)", whole(0, 1_000_000)),
    "fire": Key("{batch, minutes}: what the fire takes at once beside the hammer (no fire)", made(Fire, FIRE)),
    "oven": Key("{share, heat_up, soak, kind, unattended}: an oven load; the oven is one of the machines (none)",
                made(Oven, OVEN)),
    "uses": Key("what each piece takes: an object from items to pieces (nothing)",
                then(each(number(0.0001, 1_000), 100), lambda found: tuple(found.items()))),
}  # fmt: skip
PRODUCT: Keys = {
    "item": Key("the item that is made", text),
    "pattern": Key("rates and speeds are shared by all items of a pattern", text),
    "steps": Key("its route: a list of 1 to 60", many(made(Step, STEP), MOST_STEPS, least=1)),
    "made_from": Key("the item a run begins with, one for each piece, from stock or a delivery (nothing)", maybe_text),
    "usual": Key("up to so many pieces lines are made together; a small one does not wait for a big one (12)",
                 whole(1, PIECES)),
    "most": Key("pieces of a run at the most (60)", whole(1, PIECES)),
    "bar_gives": Key("pieces a bar gives, to which runs are rounded up (1)", whole(1, PIECES)),
}  # fmt: skip
BATCH: Keys = {
    "code": Key("of the run, a name no other has", text),
    "item": Key("of a product", text),
    "step": Key("number of the step they stand after; 0: not begun", whole(0, 1_000_000)),
    "pieces": Key("that stand there", whole(1, PIECES)),
    "ready": Key("moment from which they can go on, such as 2026-12-01T14:30 (now)", moment),
    "spare": Key("true: they go on only as far as they are wanted, such as heads on the shelf (false)", flag),
    "done_minutes": Key("worked already on the next step (0)", number(0, MINUTES)),
    "by": Key("codes of the people who work on it and go on (whoever is free)", many(text, 20)),
}
SUPPLIER: Keys = {
    "code": Key("a name", text),
    "late_days": Key("days by which each delivery on record came late, early below 0; each as likely ([0])",
                     many(whole(-1_000, 1_000), 2_000, least=1)),
    "lead_days": Key("days from an order to the day promised (14)", whole(0, 1_000)),
}  # fmt: skip
COMING: Keys = {
    "item": Key("of a delivery under way", text),
    "pieces": Key("that it brings", whole(1, STOCK)),
    "day": Key("it was promised for; may be over", day),
    "supplier": Key("a code of the suppliers", text),
}
LINE: Keys = {
    "order": Key("name of the order; lines of one name go together", text),
    "item": Key("an item that is made, in stock, coming or can be bought", text),
    "pieces": Key("still owed and not yet set aside; 0: all is there and only the parcel is to go", whole(0, PIECES)),
    "day": Key("that was promised; null: none was (null)", lambda value, *at: None if value is None else day(value, *at)),
    "sure": Key("chance that was wanted for it (0.9)", number(*SURE)),
    "alone": Key("true: made in a run of its own, not together with the lines before and behind it (false)", flag),
}  # fmt: skip
FOR_SHELF: Keys = {
    "item": Key("of a product, named once", text),
    "pieces": Key("to be started, behind all lines", whole(1, PIECES)),
}
PIN: Keys = {
    "run": Key(
        "code of a batch, or item+1, item+2 … for runs still to be started, item+shelf1 … for those of the shelf", text
    ),
    "step": Key("number of the step", whole(1, 1_000_000)),
    "day": Key("before which it does not begin", day_to_come),
}
SHOP: Keys = {
    "hours": Key("when the shop works and parcels go", made(Hours, HOURS)),
    "people": Key("who works: a list of up to 60", many(made(Person, PERSON), 60)),
    "machines": Key("a list of up to 100 (none)", many(made(Machine, MACHINE), 100)),
    "products": Key("what is made and how: a list of up to 300 (nothing)", many(made(Product, PRODUCT), 300)),
    "stock": Key("free pieces on the shelf: an object from items to pieces (nothing)", each(whole(0, STOCK), MOST_NAMES)),
    "batches": Key("runs and heads under way: a list of up to 500 (none)", many(made(Batch, BATCH), MOST_RUNS)),
    "coming": Key("deliveries under way: a list of up to 2000 (none)", many(made(Coming, COMING), 2_000)),
    "suppliers": Key("their records: a list of up to 300 (none)", many(made(Supplier, SUPPLIER), 300)),
    "buys_from": Key("an object from items to the supplier they can be bought from today (nothing)", each(text, MOST_NAMES)),
    "lines": Key("what is owed, in the order it was promised: a list of up to 2000 (nothing)", many(made(Line, LINE), MOST_LINES)),
    "for_shelf": Key("what is made for the shelf, ordered by nobody: a list of up to 300 (nothing)",
                     many(made(ForShelf, FOR_SHELF), 300)),
    "pins": Key("the week sheet: operations that were put somewhere, in its order (none)", many(made(Pin, PIN), 2_000)),
    "tooling_in": Key("an object from machines to the set of tooling that is in them (none)", each(text, 100)),
    "now": Key("time of the first day (08:00)", clock),
    "lorry": Key("time of day from which a delivery can be used (12:00)", clock),
    "starts_sure": Key("how sure a run shall give enough good pieces (0.8)", number(*SURE)),
    "pack_minutes": Key("of opening hours until a parcel is packed; nobody is held for it (30)", whole(0, 10_000)),
    "top_up_waits": Key("a further run for what is short in the end takes its minutes of work so many times (2)",
                        number(0, 100)),
    "unrest": Key("mean share by which the time a run has left turns out longer or shorter, because the plan is made anew "
                  "each morning (0.12)", number(0, 0.9)),
    "horizon_days": Key("what is not sent within so many days is never sent (400)", whole(1, MOST_DAYS)),
}  # fmt: skip

SECTIONS: Final[Mapping[str, tuple[type, Keys]]] = {
    "hours": (Hours, HOURS),
    "people": (Person, PERSON),
    "people.ill, machines.breaks": (Spells, SPELLS),
    "machines": (Machine, MACHINE),
    "products": (Product, PRODUCT),
    "products.steps": (Step, STEP),
    "products.steps.varies": (Law, LAW),
    "products.steps.fire": (Fire, FIRE),
    "products.steps.oven": (Oven, OVEN),
    "batches": (Batch, BATCH),
    "coming": (Coming, COMING),
    "suppliers": (Supplier, SUPPLIER),
    "lines": (Line, LINE),
    "for_shelf": (ForShelf, FOR_SHELF),
    "pins": (Pin, PIN),
}

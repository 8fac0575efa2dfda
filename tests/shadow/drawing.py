"""Shops drawn from a seed: hands, hours, machines, suppliers, first stock, and how much is asked of them."""

from tests.shadow.cards import draw_patterns
from tests.shadow.facts import OVEN, WEEK, Calendar, Carrier, Facts, Pattern, Person, Supply, Work
from tests.shadow.laws import (
    BAD_BELIEF,
    BREAKDOWN_BELIEF,
    FOLLOWS_THE_LAWS,
    LATE_BELIEF,
    MINUTES_DOUBT,
    REPAIR_CHANCES,
    SICK_BELIEF,
    SPELL_CHANCES,
    Laws,
)
from tests.shadow.streams import drawn, stream
from tests.shadow.trade import draw_lines, pieces_a_week
from tests.shadow.truths import OpeningRun, Shop, StepTruth, SupplyTruth

BENCHES = ("fire", "grinding", "wood", "packing")
MACHINES = ("hammer", "press", "grinder")


def draw_shop(seed: int, laws: Laws = FOLLOWS_THE_LAWS, weeks: int = 26) -> Shop:
    """Draw a shop.

    Args:
        seed: of the shop and of everything that happens in it.
        laws: of its world; two shops of one seed under different laws have the same facts and truths.
        weeks: of the simulation; orders are asked for until its end.
    """
    people = _draw_people(seed, weeks)
    patterns = draw_patterns(seed, len(people))
    calendar = _draw_calendar(seed, weeks)
    supplies = _draw_supplies(seed, patterns)
    share = float(stream(seed, "share").choice([0.6, 0.65, 0.7]))
    weekly = pieces_a_week(seed, calendar, share, people, patterns)
    facts = Facts(
        calendar=calendar,
        carrier=_draw_carrier(seed, calendar),
        share=share,
        people=people,
        machines=MACHINES,
        patterns=patterns,
        supplies=supplies,
        unattended=bool(stream(seed, "unattended").random() < 1 / 3),
        weekly=weekly,
        sick=SICK_BELIEF,
        spells=SPELL_CHANCES,
        breakdown=BREAKDOWN_BELIEF,
        repairs=REPAIR_CHANCES,
        late=LATE_BELIEF,
        bad=BAD_BELIEF,
        minutes_doubt=MINUTES_DOUBT,
    )
    stock = _draw_stock(seed, facts)
    return Shop(
        seed=seed,
        weeks=weeks,
        facts=facts,
        steps=_draw_steps(seed, patterns),
        laws=laws,
        sick={one.name: float(stream(seed, "sick", one.name).beta(*SICK_BELIEF)) for one in people},
        breakdown={one: float(stream(seed, "breaks", one).beta(*BREAKDOWN_BELIEF)) for one in (*MACHINES, OVEN)},
        supplies={supply.item: _draw_supply_truth(seed, supply) for supply in supplies},
        stock=stock,
        opening=_draw_opening(seed, facts),
        lines=draw_lines(seed, facts, weeks),
    )


def _draw_people(seed: int, weeks: int) -> tuple[Person, ...]:
    """Draw one to six people; the first can do everything, every bench but in a shop of one is known to two at least."""
    luck = stream(seed, "people")
    number = 1 + drawn(luck, (0.15, 0.3, 0.25, 0.15, 0.1, 0.05))
    people = []
    for at in range(number):
        known = {bench for bench in BENCHES if luck.random() < 0.65}
        known |= set(BENCHES) if at == 0 else {BENCHES[at % 4], BENCHES[(at + 1) % 4]}
        known |= set(BENCHES) if number == 2 else set()
        first = int(luck.integers(0, weeks * WEEK))
        leave = frozenset(range(first, first + WEEK)) if luck.random() < 0.5 and number > 1 else frozenset[int]()
        people.append(Person(f"P{at + 1}", frozenset(known), leave))
    if number > 2:
        people[1] = Person("P2", people[1].benches | {"fire", "wood"}, people[1].leave)
        people[2] = Person("P3", people[2].benches | {"grinding", "packing"}, people[2].leave)
    return tuple(people)


def _draw_calendar(seed: int, weeks: int) -> Calendar:
    luck = stream(seed, "calendar")
    weekdays = frozenset(range(5)) if luck.random() < 0.7 else frozenset(range(luck.choice([4, 6])))
    opens, hours = int(luck.choice([420, 450, 480])), int(luck.choice([480, 510, 540]))
    holidays = {int(day) for day in luck.integers(1, weeks * WEEK, size=round(weeks / 6))}
    first = WEEK * int(luck.integers(4, max(5, weeks - 2)))
    shutdown = set(range(first, first + WEEK)) if luck.random() < 0.5 else set()
    return Calendar(weekdays, opens, opens + hours, frozenset(holidays | shutdown))


def _draw_carrier(seed: int, calendar: Calendar) -> Carrier:
    luck = stream(seed, "carrier")
    daily = luck.random() < 0.5
    days = calendar.weekdays if daily else calendar.weekdays & {1, 3}
    return Carrier(days, calendar.shuts - int(luck.choice([30, 60, 120])))


def _draw_supplies(seed: int, patterns: tuple[Pattern, ...]) -> tuple[Supply, ...]:
    handles = {step.uses for one in patterns for step in one.route if isinstance(step, Work) and step.uses}
    supplies = [
        Supply(item, int(stream(seed, "lead", item).choice([10, 14, 21])), 12, sorted_=True) for item in handles
    ]
    blanks = {one.blank for one in patterns}
    supplies += [Supply(item, int(stream(seed, "lead", item).choice([7, 10, 14])), 10) for item in blanks]
    return tuple(sorted(supplies, key=lambda supply: supply.item))


def _draw_supply_truth(seed: int, supply: Supply) -> SupplyTruth:
    luck = stream(seed, "supplier", supply.item)
    chances = luck.dirichlet([weight for _, weight in LATE_BELIEF])
    late = tuple((days, float(chance)) for (days, _), chance in zip(LATE_BELIEF, chances, strict=True))
    return SupplyTruth(late, float(luck.beta(*BAD_BELIEF)) if supply.sorted_ else 0.0)


def _draw_steps(seed: int, patterns: tuple[Pattern, ...]) -> dict[tuple[str, int], StepTruth]:
    truths = {}
    for pattern in patterns:
        for number, card in enumerate(pattern.route):
            if isinstance(card, Work):
                luck = stream(seed, "truth", pattern.name, number)
                minutes = card.minutes * float(luck.lognormal(0, MINUTES_DOUBT))
                good = float(luck.beta(*card.belief)) if card.belief else 1.0
                truths[pattern.name, number] = StepTruth(minutes, good)
    return truths


def _draw_stock(seed: int, facts: Facts) -> dict[str, int]:
    """Draw what lies there on day 0: bought items for the lead and some weeks, a few tools."""
    luck, stock = stream(seed, "stock"), {}
    for supply in facts.supplies:
        a_week = sum(facts.weekly[one.name] for one in facts.patterns if takes(one, supply.item))
        stock[supply.item] = round(a_week * (supply.lead / WEEK + luck.uniform(1, 4))) + 6
    for pattern in facts.patterns:
        stock[pattern.name] = round(facts.weekly[pattern.name] * luck.uniform(0, 2))
    return stock


def takes(pattern: Pattern, item: str) -> bool:
    """Say whether a pattern is made from an item, or uses one of it on its route."""
    return pattern.blank == item or any(isinstance(step, Work) and step.uses == item for step in pattern.route)


def _draw_opening(seed: int, facts: Facts) -> tuple[OpeningRun, ...]:
    """Draw up to two runs for each pattern, somewhere on their routes; nothing of them was lost so far."""
    luck, runs = stream(seed, "opening"), []
    for pattern in facts.patterns:
        for number in range(int(luck.integers(0, 3))):
            pieces = min(pattern.most, max(2, round(facts.weekly[pattern.name] * luck.uniform(0.5, 1.5))))
            step = int(luck.integers(0, len(pattern.route)))
            runs.append(OpeningRun(f"{pattern.name}-old{number + 1}", pattern.name, pieces, (pieces,) * step))
    return tuple(runs)

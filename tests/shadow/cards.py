"""Route cards drawn from a seed: two to four patterns of a forge, in the order of work of any forge.

Minutes, set-ups and good rates lie about those of common practice for a hammer head; no source.
"""

from typing import Final

import numpy as np

from tests.shadow.facts import Cure, Pattern, Soak, Step, Work
from tests.shadow.laws import BELIEF_PIECES
from tests.shadow.streams import stream

GOOD: Final = {"fire": 0.97, "grinding": 0.985, "check": 0.96, "wood": 0.97, "packing": 0.99}
TEMPERS: Final = (200, 220)
NAMES: Final = "ABCD"


def draw_patterns(seed: int, people: int) -> tuple[Pattern, ...]:
    """Draw the patterns of a shop of so many people; the first has a handle, steels and handles may be shared."""
    number = int(stream(seed, "patterns").integers(2, 5))
    return tuple(_draw_pattern(seed, NAMES[at], people) for at in range(number))


def _draw_pattern(seed: int, name: str, people: int) -> Pattern:
    luck = stream(seed, "card", name)
    hafted = name == NAMES[0] or luck.random() < 0.7
    route = [*_forging(luck, name, people), *_hardening(luck), _check(luck)]
    if hafted:
        handle = f"handle {luck.choice(['long', 'short'])}"
        route += [_work(luck, "wood", 8, 16, set_up=8, good="wood", uses=handle), Cure(int(luck.choice([720, 1_200])))]
    route.append(_work(luck, "packing", 3, 6, set_up=5, good="packing"))
    return Pattern(name, f"blank {luck.choice(['round', 'square', 'flat'])}", tuple(route))


def _forging(luck: np.random.Generator, name: str, people: int) -> list[Step]:
    """Two forging heats, of which one may take two people, then a rest over night in some routes, then the grinder."""
    together = 2 if people > 1 and luck.random() < 0.4 else 1
    first = ("press",) if luck.random() < 0.5 else ("hammer", "press")
    steps: list[Step] = [
        _work(luck, "fire", 6, 14, set_up=20, good="fire", machines=first, tooling=f"{name} punches"),
        _work(
            luck, "fire", 8, 18, set_up=25, good="fire", machines=("hammer",), tooling=f"{name} dies", people=together
        ),
    ]
    if luck.random() < 0.5:
        steps.append(Cure(int(luck.choice([120, 720]))))
    steps.append(_work(luck, "grinding", 5, 11, set_up=5, good="grinding", machines=("grinder",)))
    return steps


def _hardening(luck: np.random.Generator) -> list[Step]:
    """The oven twice, hot and short, then warm and long; how many it holds is the pattern's."""
    share = 1 / int(luck.integers(16, 41))
    temper = int(luck.choice(TEMPERS))
    return [Soak(840, 30, 60, share), Soak(temper, 120, 30, share)]


def _check(luck: np.random.Generator) -> Work:
    return _work(luck, "grinding", 2, 4, set_up=5, good="check")


def _work(
    luck: np.random.Generator,
    bench: str,
    least: float,
    most: float,
    *,
    set_up: float,
    good: str,
    machines: tuple[str, ...] = (),
    tooling: str = "",
    people: int = 1,
    uses: str | None = None,
) -> Work:
    rate, pieces = GOOD[good], BELIEF_PIECES
    return Work(
        bench=bench,
        minutes=round(float(luck.uniform(least, most)), 1),
        spread=round(float(luck.uniform(0.08, 0.25)), 2),
        set_up=set_up,
        tooling=tooling,
        people=people,
        machines=machines,
        belief=(rate * pieces, (1 - rate) * pieces),
        uses=uses,
    )

"""Runs shadow shops under the calculator and sets its dates beside the days the carrier really came."""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from tests.calibration.managing import ByPlan, Given
from tests.shadow import FOLLOWS_THE_LAWS, Laws, Line, Shop, draw_shop, simulate

WEEKS = 26
AFTER = 8  # weeks in which lines are still finished, judged no more
MOST = 10  # dates of one shop
APART = 16  # days between two of them, about a lead time
CHANCES = (0.8, 0.9, 0.95)


@dataclass(frozen=True, slots=True)
class Judged:
    """A date that was given and the day on which it was really sent; nothing where it never was."""

    shop: int
    given: Given
    sent: int | None

    @property
    def kept(self) -> bool:
        """Whether it was sent by the day given."""
        return self.sent is not None and self.sent <= self.given.day


def judge(seed: int, laws: Laws = FOLLOWS_THE_LAWS, *, futures: int = 1_000) -> list[Judged]:
    """Run one shop and return what became of its dates."""
    shop = draw_shop(seed, laws, WEEKS + AFTER)
    manager = ByPlan(shop.facts, wanted(shop, Random(seed)), seed, futures)
    history = simulate(shop, manager)
    sent = {(past.line.order, past.line.number): past.carried for past in history.lines}
    return [Judged(seed, given, sent[given.order, given.number]) for given in manager.given]


def wanted(shop: Shop, dice: Random) -> dict[tuple[int, int], float]:
    """Choose the lines whose dates are judged: at most ten, a lead time apart, each with the chance wanted."""
    found: list[Line] = []
    for line in _mixed(shop.lines, dice):
        near = any(abs(line.asked - other.asked) < APART for other in found)
        if line.asked < 7 * WEEKS and not near and len(found) < MOST:
            found.append(line)
    return {(line.order, line.number): dice.choice(CHANCES) for line in found}


def _mixed(lines: Sequence[Line], dice: Random) -> list[Line]:
    return dice.sample(list(lines), len(lines))

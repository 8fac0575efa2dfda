"""Control of rejects: when a share of rejects is more than chance, and which causes cost most.

Three charts. The p-chart is for large counts: it signals where a share lies outside three standard deviations. The exact
chart is for the small counts of a run, and looks at each alone. The running sum is for rare rejects: it adds up every
single piece over all counts and signals a shift soonest. A chart of the good pieces between two rejects is not here: its
lower limit is 0, so it never says that rejects have become more.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from inventory.calc.good_rates import incomplete_beta

SIGMAS: Final = 3  # the usual limits of a control chart (common practice, no source)
NEARLY: Final = 1e-12  # a point on its limit is inside


@dataclass(frozen=True, slots=True)
class Counted:
    """One count: pieces looked at, 1 or more, and rejects among them."""

    of: int
    rejects: int

    def __post_init__(self) -> None:
        if self.of < 1 or not 0 <= self.rejects <= self.of:
            raise ValueError("one piece or more is counted, and as many rejects at the most")

    @property
    def share(self) -> float:
        """The share of rejects."""
        return self.rejects / self.of


@dataclass(frozen=True, slots=True)
class Sample:
    """A count on the chart: its share, its limits, and which way it lies outside (-1 below, 0 inside, 1 above)."""

    share: float
    low: float
    high: float
    out: int


@dataclass(frozen=True, slots=True)
class ShareChart:
    """A p-chart: the mean share and each count in its order."""

    mean: float
    samples: Sequence[Sample]

    @property
    def signals(self) -> list[int]:
        """Which counts lie above their limit, by place from 0: rejects are more than chance."""
        return [at for at, one in enumerate(self.samples) if one.out > 0]


def share_chart(counts: Sequence[Counted], *, mean: float | None = None) -> ShareChart:
    """Chart shares of rejects with limits that fit each count's size.

    Args:
        counts: in order, one or more.
        mean: the share taken as usual; None: that of these counts.

    Returns:
        The chart.

    Raises:
        ValueError: no count, or a mean outside 0 to 1.

    Source: p-chart, mean ± 3 √(mean (1 - mean) / n), NIST/SEMATECH e-Handbook 6.3.3.2.
    """
    if not counts:
        raise ValueError("a chart needs one count or more")
    usual = sum(one.rejects for one in counts) / sum(one.of for one in counts) if mean is None else mean
    if not 0 <= usual <= 1:
        raise ValueError("a share lies between 0 and 1")
    samples = []
    for one in counts:
        spread = SIGMAS * math.sqrt(usual * (1 - usual) / one.of)
        low, high = max(0.0, usual - spread), min(1.0, usual + spread)
        out = 1 if one.share > high + NEARLY else -1 if one.share < low - NEARLY else 0
        samples.append(Sample(one.share, low, high, out))
    return ShareChart(usual, samples)


SELDOM: Final = 0.00135  # the tail beyond three standard deviations of a normal distribution


def chance_of(rejects: int, of: int, usual: float) -> float:
    """Give the chance of so many rejects or more.

    Args:
        rejects: 0 to all.
        of: pieces looked at, 1 or more.
        usual: the usual share of rejects, 0 to 1.

    Returns:
        The upper tail of the binomial distribution.

    Source: P(X >= x) = I_p(x, n - x + 1), DLMF 8.17.5 (number from memory).
    """
    if not 0 <= rejects <= of or of < 1:
        raise ValueError("one piece or more is looked at, and as many rejects at the most")
    return incomplete_beta(rejects, of - rejects + 1, usual) if rejects else 1.0


def exact_chart(counts: Sequence[Counted], *, mean: float) -> ShareChart:
    """Chart shares of rejects of small counts, where three standard deviations cry too often.

    Args:
        counts: in order, one or more.
        mean: the share taken as usual, 0 to 1.

    Returns:
        The chart; a count is above its limit where so many rejects or more are rarer than 1.35 in a thousand. Nothing is
        ever below it: few rejects are no reason to look.

    Source: exact binomial limits instead of the p-chart's normal ones, whose false alarms are many where the mean is
        small; the same tail as three standard deviations.
    """
    if not counts or not 0 <= mean <= 1:
        raise ValueError("a chart needs one count or more and a share between 0 and 1")
    samples = []
    for one in counts:
        most = next(x for x in range(one.of + 2) if x > one.of or chance_of(x, one.of, mean) <= SELDOM)
        samples.append(Sample(one.share, 0.0, min(1.0, (most - 0.5) / one.of), 1 if one.rejects >= most else 0))
    return ShareChart(mean, samples)


@dataclass(frozen=True, slots=True)
class RunningSum:
    """A sum over single pieces: a reject adds `step` - 1, a good piece takes 1 off, never under 0; `at` and above signals.

    `step` is about how many pieces one reject is worth where the share is half way between usual and too much.
    """

    step: int
    at: int

    def __post_init__(self) -> None:
        if self.step < 2 or self.at < 1:
            raise ValueError("a reject adds one or more, and a sum of one or more signals")

    def run(self, rejected: Sequence[bool], *, begin: int = 0) -> tuple[int, int | None]:
        """Add up pieces in their order.

        Args:
            rejected: piece after piece, whether it was a reject.
            begin: the sum before.

        Returns:
            The sum at the end, and the place from 0 of the first signal (None: none).
        """
        total, signal = begin, None
        for at, bad in enumerate(rejected):
            total = max(0, total + (self.step - 1 if bad else -1))
            if signal is None and total >= self.at:
                signal = at
        return total, signal

    def pieces_to_signal(self, share: float) -> float:
        """Give how many pieces it takes to signal on the average, from a sum of 0.

        Args:
            share: of rejects, above 0, up to 1.

        Returns:
            The mean number of pieces.

        Source: Markov chain over the sum, Brook and Evans 1972 (from memory).
        """
        if not 0 < share <= 1:
            raise ValueError("a share lies above 0, up to 1")
        return _mean_pieces(self.step - 1, self.at, share)


def _mean_pieces(up: int, at: int, share: float) -> float:
    rows = np.eye(at)
    for total in range(at):
        rows[total, max(0, total - 1)] -= 1 - share
        if total + up < at:
            rows[total, total + up] -= share
    return float(np.linalg.solve(rows, np.ones(at))[0])


def reference(usual: float, too_many: float) -> float:
    """Give how many pieces one reject is worth in a running sum that tells two shares apart.

    Args:
        usual: the share of rejects that is borne.
        too_many: the share that must be found.

    Returns:
        The value before rounding to a whole `step`.

    Source: Reynolds and Stoumbos 1999, Journal of Quality Technology 31:87-108 (formula from memory).
    """
    if not 0 < usual < too_many < 1:
        raise ValueError("too many is more than usual, and both lie between 0 and 1")
    good = -math.log((1 - too_many) / (1 - usual))
    bad = math.log(too_many * (1 - usual) / (usual * (1 - too_many)))
    return bad / good


def worst_first(costs: Mapping[str, int]) -> list[tuple[str, int, float]]:
    """Put causes in the order of what they cost.

    Args:
        costs: minor units (or pieces) by cause, 0 or more.

    Returns:
        Cause, cost and the share that this and those before it make up together; equal ones by name.
    """
    total = sum(costs.values())
    ordered, so_far = [], 0
    for cause, cost in sorted(costs.items(), key=lambda row: (-row[1], row[0])):
        so_far += cost
        ordered.append((cause, cost, so_far / total if total else 0.0))
    return ordered

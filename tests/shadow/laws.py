"""The laws a shadow shop lives under. Written down and committed BEFORE any calibration run was made with them.

Whoever calibrates the date calculator against this shop changes nothing here: a law that is bent after the results are
known judges nobody. If one must change, the change is a commit of its own that says which results were known by then.
The same goes for what shops are drawn from: `cards`, `trade` and `drawing`.

Two sets. FOLLOWS_THE_LAWS is a world the calculator's own assumptions describe: true figures are drawn once per shop
from the beliefs below, which the shop's manager is told, and stand still. HIDDEN is a world that says nothing of how it
differs: bad weeks, drift, worse tails, clusters and wrong counts. No source for any number here but shop practice.
"""

from dataclasses import dataclass
from typing import Final

# What the trade believes of any shop. A shop's truths are drawn from exactly these, and Facts hands them on.
BELIEF_PIECES: Final = 50.0  # a believed good rate is worth so many pieces: Beta(mean * 50, (1 - mean) * 50)
MINUTES_DOUBT: Final = 0.12  # standard deviation of log(true mean minutes / minutes on the route card), once per step
SICK_BELIEF: Final = (2.0, 198.0)  # Beta of the chance that somebody who is well falls ill on an open day: 1 in 100
SPELL_CHANCES: Final = (0.5, 0.3, 0.2)  # an illness lasts 1, 2, 3 open days
BREAKDOWN_BELIEF: Final = (2.0, 198.0)  # Beta of the chance that a sound machine fails on an open day: 1 in 100
REPAIR_CHANCES: Final = (0.5, 0.25, 0.15, 0.1)  # a repair takes 1, 2, 3, 4 open days, that of the failure counted
LATE_BELIEF: Final = ((0, 11.0), (1, 3.0), (2, 2.0), (4, 2.0), (7, 2.0))  # Dirichlet: days late and weight, 20 in all
BAD_BELIEF: Final = (3.0, 47.0)  # Beta of the share of bought handles that is no good: 6 in 100


@dataclass(frozen=True, slots=True)
class Laws:
    """How a world departs from the beliefs; the defaults depart in nothing.

    Attributes:
        name: said in reports.
        bad_weeks: weeks of every block of 26 in which rejects are multiplied, drawn by the shop's seed.
        rejects_times: by how much, in such a week.
        very_late_share: share of deliveries that come `very_late_days` later than they would have.
        very_late_days: days.
        drift: by how much the minutes of a bench have grown or shrunk after `drift_weeks`, growing evenly until then;
            up or down is drawn per bench.
        drift_weeks: weeks.
        slow_share: share of the steps of runs that take `slow_times` as long as they would have.
        slow_times: a factor.
        cluster_days: open days after a repair in which the chance of a breakdown is multiplied.
        cluster_times: by how much.
        miscount_share: share of the counts that are entered one too high or one too low.
        corrected_after: open days after which a wrong count is corrected.
        winter_weeks: first and last week, of every 52, in which people fall ill more often.
        winter_times: by how much.
    """

    name: str
    bad_weeks: int = 0
    rejects_times: float = 1.0
    very_late_share: float = 0.0
    very_late_days: int = 0
    drift: float = 0.0
    drift_weeks: int = 26
    slow_share: float = 0.0
    slow_times: float = 1.0
    cluster_days: int = 0
    cluster_times: float = 1.0
    miscount_share: float = 0.0
    corrected_after: int = 3
    winter_weeks: tuple[int, int] = (6, 17)
    winter_times: float = 1.0


FOLLOWS_THE_LAWS: Final = Laws("follows the laws")
HIDDEN: Final = Laws(
    "hidden",
    bad_weeks=4,
    rejects_times=2.0,
    very_late_share=0.1,
    very_late_days=14,
    drift=0.15,
    slow_share=0.05,
    slow_times=2.0,
    cluster_days=10,
    cluster_times=6.0,
    miscount_share=0.04,
    winter_times=2.0,
)
BLOCK_WEEKS: Final = 26  # bad weeks are drawn in blocks of half a year
YEAR_WEEKS: Final = 52

"""Pages that explain: how ship dates are worked out. Figures come from the calculator itself, so they cannot go stale."""

from dataclasses import fields
from typing import Final

from django.http import HttpRequest, HttpResponse

from orders.calc.dates import MODEL, asking, dispatch, futures, ideas, topping
from orders.calc.dates.route import Product
from orders.calc.dates.state import Hours, Shop
from shop.staff import posting
from shop.staff.ruled import Column, Ruled

ROOM: Final = "counter"
UNBROKEN: Final = "\u00a0"
# An invented order over a weekend: futures of a hundred that have sent it.
SENT_BY = (
    ("Tue 1 Dec", 8), ("Wed 2 Dec", 41), ("Thu 3 Dec", 77), ("Fri 4 Dec", 93), ("Mon 7 Dec", 98), ("Tue 8 Dec", 100),
)  # fmt: skip

DRAWN = f"""\
how many of 100 come good | good and rejected pieces counted at each counting point, what was believed before any were counted
among them: a Beta law | all runs of a pattern

which pieces are good | that share, piece by piece (binomial); so many of the rejects are worked over, once, and come good as
often as the others | the run

minutes of a step | its mean, how unsure that mean is (lognormal), and how runs differ from each other | the mean: all runs of a
pattern; the rest: the run

days somebody is ill, a machine is down | the chance of it on an open day and how long the spells lasted that were noted, one
as likely as the other, for {futures.LOOK_AHEAD} open days; who is ill today stays away for what is left of such spells | the
whole shop

the day a delivery comes | how late that supplier came before, as far as that is still possible; later than ever before, it comes
on one of the next days, as many as the record spreads over, five at the least | the delivery

the day of what has to be bought | the supplier's lead time from today, and how late he came before | the item

unrest | the time a run has left, longer or shorter because the plan is made anew each morning (Laplace law of the logarithm) |
the run"""


def dates(request: HttpRequest) -> HttpResponse:
    """Say how ship dates are worked out: in plain words, then exactly."""
    usual = {one.name: one.default for kind in (Hours, Shop, Product) for one in fields(kind)}
    facts = {
        "usual": usual,
        "production": _of_100(usual["production"]),
        "starts_sure": _of_100(usual["starts_sure"]),
        "unrest": _of_100(usual["unrest"]),
        "futures": asking.FUTURES,
        "point": _of_100(asking.POINT),
        "look_ahead": futures.LOOK_AHEAD,
        "top_ups": topping.TOP_UPS,
        "at_once": round(dispatch.AT_ONCE),
        "best": ideas.BEST,
        "idea_futures": ideas.FUTURES,
        "model": MODEL,
        "example": _example(),
        "drawn": _drawn(),
    }
    return posting.sheet(posting.here_of(request), "staff/help/dates.html", ROOM, facts)


def _of_100(share: object) -> int:
    assert isinstance(share, float)
    return round(100 * share)


def _example() -> Ruled:
    columns = [Column("by the end of"), Column("sent, of 100 futures", figures=True), Column("what that is")]
    half = next(day for day, count in SENT_BY if count >= 50)
    nine = next((day, count) for day, count in SENT_BY if count >= 90)
    said = {
        half: "the even day, the first with 50 or more: for the shop alone, never for a customer",
        nine[0]: f"the day for nine in ten, the first with 90 or more; what is stated of it is {nine[1]} in 100",
    }
    return Ruled(
        "An order as an example",
        columns,
        [[day.replace(" ", UNBROKEN), count, said.get(day, "")] for day, count in SENT_BY],
    )


def _drawn() -> Ruled:
    columns = [Column("what"), Column("from what"), Column("the same for")]
    rows = [[" ".join(part.split()) for part in line.split("|")] for line in DRAWN.split("\n\n")]
    return Ruled("What is drawn in each future", columns, rows)

"""What to make for the shelf, in sentences: why now, how many, and what speaks for the number; on pages and in the API."""

import datetime as dt
from collections.abc import Callable, Mapping

from orders.calc.for_shelf import Reason, Value
from orders.queries.for_the_shelf import Proposal
from shop.flows import buying_words, need_words
from shop.flows.night import words
from shop.shared import units

LONGEST = 300  # of the reason that is kept with what is put into the week


def now(one: Proposal, today: dt.date) -> str:
    """Say what there is, until when that lasts, and how many good ones are wanted."""
    need, wanted = one.wanted.need, one.wanted
    said = f"Lasts until {buying_words.lasts(need, today)}. {need_words.left(need)}"
    if wanted.least < 1:
        there = "1 of its heads lies" if wanted.heads == 1 else f"{words.grouped(wanted.heads)} of its heads lie"
        return f"{said} {there} on the shelf: enough, once hafted."
    good = f"{words.grouped(wanted.least)} good ones are wanted at the least"
    return f"{said} {good}{f', besides {words.grouped(wanted.heads)} heads on the shelf' if wanted.heads else ''}."


def many(one: Proposal, currency: str) -> str:
    """Say what comes of the number and what speaks for it; nothing where nothing is started."""
    chosen = one.chosen
    if chosen is None:
        return ""
    said = [f"Of {words.grouped(chosen.pieces)} about {words.grouped(round(chosen.good))} come good"]
    said += [word for why in chosen.why if (word := _SAID[why.kind](why.facts, currency))]
    return f"{'; '.join([*said, *_shared(one)])}."


def short(one: Proposal, currency: str) -> str:
    """Return the reason in few words, as it is kept: 12 of bar AB12, oven full, tooling in."""
    said = "; ".join(reasons(one, currency))
    return f"{words.capital(said)[: LONGEST - 1]}." if said else ""


def reasons(one: Proposal, currency: str) -> list[str]:
    """Return each reason by itself: without what it saves, which is a cost, and without the runs, which the week shows."""
    if one.chosen is None:
        return []
    kept = [why for why in one.chosen.why if why.kind not in (Reason.CHEAPER, Reason.RUNS)]
    return [*(_SAID[why.kind](why.facts, currency) for why in kept), *_shared(one)]


def _shared(one: Proposal) -> list[str]:
    if one.joins:
        return [f"made with the run of {one.joins.rpartition('+')[0]} for orders, so its tooling is in"]
    return [f"tooling {one.tooling} is in"] if one.tooling else []


Facts = Mapping[str, Value]


def _sawn(facts: Facts, _currency: str) -> str:
    pieces = int(str(facts["pieces"]))
    return f"{words.grouped(pieces)} {'is' if pieces == 1 else 'are'} sawn already"


def _bars(facts: Facts, _currency: str) -> str:
    bars = facts["bars"]
    assert isinstance(bars, tuple)
    said = " and ".join(f"{words.grouped(blanks)} of bar {name}" for name, blanks in bars[:3])
    said += f" and {len(bars) - 3} bars more" if len(bars) > 3 else ""
    return f"{said}, {'nothing over' if facts['whole'] == len(bars) else 'a rest is kept'}"


def _buy(facts: Facts, _currency: str) -> str:
    bars = int(str(facts["bars"]))
    whole = ", sawn up whole" if facts["whole"] else ""
    return f"{words.count(bars, 'bar')} to be bought, which {'gives' if bars == 1 else 'give'} {facts['gives']} each{whole}"


def _oven(facts: Facts, _currency: str) -> str:
    loads = int(str(facts["loads"]))
    return f"{facts['name']}: {'the oven is full' if loads == 1 else f'{loads} full loads'}"


def _oven_part(facts: Facts, _currency: str) -> str:
    loads = int(str(facts["loads"]))
    return f"{facts['name']}: {words.count(loads, 'load')} of {facts['holds']}"


def _cheaper(facts: Facts, currency: str) -> str:
    saved = round(float(str(facts["saves_minor"])))
    return f"each costs {units.money(saved, currency)} less than of {facts['least']}" if saved else ""


_SAID: Mapping[Reason, Callable[[Facts, str], str]] = {
    Reason.SAWN: _sawn,
    Reason.BARS: _bars,
    Reason.BUY: _buy,
    Reason.NO_STEEL: lambda _facts, _currency: "no steel for it is known",
    Reason.OVEN: _oven,
    Reason.OVEN_PART: _oven_part,
    Reason.FIRE: lambda facts, _currency: f"{facts['name']}: {facts['batches']} whole fires",
    Reason.USUAL: lambda _facts, _currency: "a usual run",
    Reason.RUNS: lambda facts, _currency: f"{facts['runs']} runs, for one takes up to {facts['most']}",
    Reason.CHEAPER: _cheaper,
}

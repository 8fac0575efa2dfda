"""What is to be ordered or made, in sentences: how long it lasts, by when, how many and why; the same on paper and screen."""

import datetime as dt
from collections.abc import Sequence

from orders.queries.reorder.needs import Need
from orders.queries.reorder.proposals import Proposal, ProposedLine
from orders.queries.reorder.steel_bought import Bars
from shop.flows.buying_amounts import amount
from shop.flows.buying_reasons import notes, reasons
from shop.flows.night import words

_NAMED = 3


def lasts(need: Need, today: dt.date) -> str:
    """Say until when it lasts, half the time and with the wanted chance."""
    decision = need.decision
    if decision.lasts_until is None:
        return "more than a year"
    if decision.lasts_until <= today:
        return "today"
    if need.make and need.asked.free <= 0:  # orders have their share elsewhere: the day is of the next one
        return f"today; the next is asked for by {words.day(decision.lasts_until + dt.timedelta(days=1))}"
    if decision.last_safe_day is None or decision.last_safe_day == decision.lasts_until:
        return words.day(decision.lasts_until)
    safe = "from today" if decision.last_safe_day <= today else f"from {words.day(decision.last_safe_day)}"
    return f"{words.day(decision.lasts_until)}, not sure {safe} on"


def learned(need: Need) -> str:
    """Say how the forecast was chosen and what its errors are beside the naive one."""
    one = need.basis
    if one.silent:
        weeks = sum(1 for week in one.history if week)
        said = f"Asked for in {words.count(weeks, 'week')} only" if weeks else "Never asked for"
        return f"{said}, so nothing is expected."
    a_week = amount(need.item, 7 * one.per_day) if 7 * one.per_day >= 1 else f"{7 * one.per_day:.1f}"
    said = f"About {a_week} a week are expected, by {one.method}, from {words.count(len(one.history), 'week')}."
    if one.error is None or one.naive_error is None:
        return said + " Too few weeks to judge it by."
    off, naive = amount(need.item, one.error), amount(need.item, one.naive_error)
    return said + f" Over a reorder it was off by {off}; guessing as much as last time was off by {naive}."


def many(line: ProposedLine) -> str:
    """Write how many are proposed, as a person says it: 6 dozen, 3 bars of 20 ft, 40 pieces."""
    if line.bars:
        count = line.units // line.bars.length_nm
        return f"{words.grouped(count)} {words.plural('bar', count)} of {line.bars.typed}"
    return words.spoken(line.need.item, line.units)


def steel(bars: Bars, units_: int) -> str:
    """Say what bars give and what is lost of them."""
    count = units_ // bars.length_nm
    if not bars.blanks:
        return ""
    lost = 100 * bars.lost_nm / bars.length_nm
    return f"{words.capital(words.count(count, 'bar'))} give {words.grouped(count * bars.blanks)} blanks; {lost:.1f} of 100 are kerf and ends."


def headline(found: Sequence[Proposal]) -> str:
    """Say in a few words what is to be ordered, the suppliers by name where they are few."""
    names = [one.supplier.name if one.supplier else "goods without a supplier" for one in found]
    if len(names) > _NAMED:
        return words.count(len(names), "supplier")
    return ", ".join(names)


__all__ = ["amount", "headline", "lasts", "learned", "many", "notes", "reasons", "steel"]

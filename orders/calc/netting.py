"""Figures by period as planning books print them: projected balance, what each receipt leaves free, what to make when.

Periods are of equal length and counted from 0; all figures are whole numbers of the item's unit.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate


def needs(forecast: Sequence[int], orders: Sequence[int], *, fence: int = 0) -> list[int]:
    """Give what each period is expected to take.

    Args:
        forecast: pieces a period, 0 or more.
        orders: pieces ordered for each of the same periods, 0 or more.
        fence: in so many first periods only orders count, later the greater of both.

    Returns:
        Pieces a period.

    Source: demand time fence, Ptak & Smith, Orlicky's Material Requirements Planning, Fig. 19-4 (seen).
    """
    both = zip(forecast, orders, strict=True)
    return [ordered if at < fence else max(seen, ordered) for at, (seen, ordered) in enumerate(both)]


def projected(on_hand: int, taken: Sequence[int], receipts: Sequence[int]) -> list[int]:
    """Give what is there at the end of each period, below 0 where it falls short.

    Args:
        on_hand: pieces before the first period; what is set aside is among them, and among `taken` in its period.
        taken: pieces that leave in each period.
        receipts: pieces that come in each.

    Returns:
        Pieces a period. Setting aside what was already expected to leave changes none of them.

    Source: Ptak & Smith, Orlicky's Material Requirements Planning, Figs 7-2 to 7-7 and 9-2 (seen).
    """
    moves = (came - went for went, came in zip(taken, receipts, strict=True))
    return list(accumulate(moves, initial=on_hand))[1:]


def free_of_receipts(on_hand: int, orders: Sequence[int], receipts: Sequence[int]) -> list[int | None]:
    """Give what each receipt leaves free until the next one: discrete available-to-promise by the printed rule.

    It may be below 0, which an earlier receipt has to bear: for what can be promised see available.can_promise.

    Args:
        on_hand: pieces before the first period, which count as a receipt of it.
        orders: pieces ordered for each period.
        receipts: pieces that come in each, 0 where none.

    Returns:
        Pieces for the first period and those with a receipt, nothing for the others.

    Source: glossary of the trade's examinations, as printed by Ptak & Smith, Fig. 19-4 (seen).
    """
    found: list[int | None] = []
    first = 0
    for at, (ordered, came) in enumerate(zip(orders, receipts, strict=True)):
        if came or not at:
            first = at
            found.append(came + (0 if at else on_hand) - ordered)
        else:
            found[first] = (found[first] or 0) - ordered
            found.append(None)
    return found


@dataclass(frozen=True, slots=True)
class Netted:
    """By period: what is short before anything is planned for it, what is planned, and what is there at its end."""

    short: tuple[int, ...]
    planned: tuple[int, ...]
    balance: tuple[int, ...]


def net(on_hand: int, taken: Sequence[int], receipts: Sequence[int], *, lot: int = 1) -> Netted:
    """Plan a receipt in each period that would end short.

    Args:
        on_hand: pieces before the first period.
        taken: pieces that leave in each period, 0 or more.
        receipts: pieces already on the way for each.
        lot: pieces are planned in multiples of it, 1 or more.

    Returns:
        Shortages, planned receipts and balances.

    Raises:
        ValueError: a lot below 1.

    Source: gross to net, Ptak & Smith, Orlicky's Material Requirements Planning, Figs 7-2 to 7-7 (seen).
    """
    if lot < 1:
        raise ValueError("a lot is of one piece or more")
    short, planned, balances, balance = [], [], [], on_hand
    for went, came in zip(taken, receipts, strict=True):
        balance += came - went
        short.append(max(0, -balance))
        planned.append(-(-short[-1] // lot) * lot)
        balance += planned[-1]
        balances.append(balance)
    return Netted(tuple(short), tuple(planned), tuple(balances))


def begin(planned: Sequence[int], lead: int) -> tuple[list[int], int]:
    """Give when planned receipts have to be begun.

    Args:
        planned: pieces that have to come in each period.
        lead: periods from beginning to coming, 0 or more.

    Returns:
        Pieces to begin in each period, and pieces that should have been begun before the first.

    Raises:
        ValueError: a lead below 0.

    Source: lead-time offset (from memory; any textbook of material planning).
    """
    if lead < 0:
        raise ValueError("a lead is of 0 periods or more")
    early = min(lead, len(planned))
    return [*planned[early:], *[0] * early], sum(planned[:early])


def begin_in_turn(day: int, leads: Iterable[int]) -> list[int]:
    """Give when each stage has to begin so that the last is done by a day.

    Args:
        day: when the finished thing is due.
        leads: of the last stage, the one before it, and so on.

    Returns:
        A day for each of them.

    Source: Ptak & Smith, Orlicky's Material Requirements Planning, Fig. 6-8 (seen).
    """
    return list(accumulate(leads, lambda due, lead: due - lead, initial=day))[1:]

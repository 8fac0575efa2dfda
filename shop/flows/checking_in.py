"""On the rack: the second look at a delivery. Lengths, sizes, weight and another melt in one go; then the answer."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db import transaction

from inventory.calc.tolerances import System
from inventory.models import Bar, DeliveryLine, Lot, Place
from inventory.queries import findings
from inventory.services import checking_in, correcting, cutting, reading, receiving
from inventory.services.cutting import SawJob
from inventory.services.ledger import Locks, Stamp
from orders.models import OrderLine
from orders.services import reserving
from shop.flows import doubting
from shop.shared import shop_row, transactions
from shop.shared.errors import Invalid, Refusal


@dataclass(frozen=True, slots=True)
class LineLook:
    """What was typed about one line of steel at the second look; empty fields stay open."""

    line: DeliveryLine
    lengths: str = ""
    sizes: str = ""
    scale: str = ""
    weighed_by: str = ""
    other_bars: str = ""
    other_heat: str = ""


@dataclass(frozen=True, slots=True)
class Looked:
    """What the second look did: how many bars left the door, and the order lines that were served."""

    racked: int
    served: Sequence[OrderLine]


def look(looks: Sequence[LineLook], *, unit: str | None, place: Place | None, stamp: Stamp) -> Looked:
    """Write down the second look; a field that cannot be read keeps everything as it was and is named."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({one.line.item_id for one in looks}, at=stamp.at)
    wrong: dict[str, str] = {}
    racked = 0
    for number, one in enumerate(looks):
        try:
            with transaction.atomic():
                racked += _look_at(one, unit, place, locks, stamp)
        except Refusal as refusal:
            fields = refusal.fields or {"lengths": refusal.sentence}
            wrong.update({f"looks.{number}.{name}": sentence for name, sentence in fields.items()})
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    return Looked(racked, reserving.serve_waiting(locks))


def _look_at(one: LineLook, unit: str | None, place: Place | None, locks: Locks, stamp: Stamp) -> int:
    bars = list(
        Bar.objects.filter(lot__delivery_line=one.line, parent=None)
        .select_related("lot__item__grade", "lot__melt", "lot__delivery_line__delivery", "section")
        .order_by("pk")
    )
    steps: list[tuple[str, Callable[[], object]]] = [
        (one.sizes, lambda: _sizes(one, bars, stamp)),
        (one.lengths, lambda: _lengths(one, bars, unit, place, locks, stamp)),
        (
            one.scale,
            lambda: checking_in.weigh(one.line, one.scale, one.weighed_by, at=stamp.at, by=stamp.by),
        ),
        (one.other_bars + one.other_heat, lambda: _other_melt(one, bars, stamp)),
    ]
    waiting = sum(not bar.measured for bar in bars)
    for typed, act in steps:
        if typed.strip():
            act()
    return waiting if one.lengths.strip() else 0


def _sizes(one: LineLook, bars: Sequence[Bar], stamp: Stamp) -> None:
    """A bare size is in the unit of the section: bars are taped in feet and their size is read in inches."""
    pairs = reading.pairs_list(one.sizes)
    if len(pairs) != len(bars):
        raise Invalid.field("sizes", f"Sizes: {len(pairs)} bars are written and {len(bars)} came; write two a bar.")
    for bar, pair in zip(bars, pairs, strict=True):
        unit = "in" if findings.system_of(bar.section) is System.INCH else "mm"
        checking_in.write_sizes(bar, pair, unit=unit, at=stamp.at, by=stamp.by)


def _lengths(
    one: LineLook, bars: Sequence[Bar], unit: str | None, place: Place | None, locks: Locks, stamp: Stamp
) -> None:
    waiting = [bar for bar in bars if not bar.measured]
    read = reading.sawn_list(one.lengths, unit=unit)
    if len(read) != len(waiting):
        names = ", ".join(bar.number for bar in waiting) or "none"
        raise Invalid.field(
            "lengths", f"Lengths: {len(read)} bars are written and {len(waiting)} wait ({names}); write one for each."
        )
    kerf = shop_row.the_shop().kerf_nm
    for bar, parts in zip(waiting, read, strict=True):
        whole = sum(part.nm for part in parts) + kerf * (len(parts) - 1)
        typed = " + ".join(part.typed for part in parts)
        receiving.rack(bar, whole, typed, locks=locks, stamp=stamp, place=place)
        if len(parts) > 1:
            cutting.cut(bar, SawJob(kerf, left=parts), locks=locks, stamp=stamp)


def _other_melt(one: LineLook, bars: Sequence[Bar], stamp: Stamp) -> None:
    if not one.other_heat.strip() or not one.other_bars.strip():
        missing = "other_heat" if one.other_bars.strip() else "other_bars"
        raise Invalid.field(missing, "Another mill heat: write the numbers of its bars and the mill heat.")
    by_number = {bar.number: bar for bar in bars}
    for word in one.other_bars.replace(",", " ").upper().split():
        if word not in by_number:
            raise Invalid.field(
                "other_bars", f"Bars of another mill heat: {word[:6]} is none of {', '.join(by_number)}."
            )
        lot = by_number[word].lot
        mill = lot.melt.mill if lot.melt else ""
        correcting.melt_of(
            lot, one.other_heat, mill=mill, at=stamp.at, by=stamp.by, reason="read from the bar at the second look"
        )


def answer(line: DeliveryLine, said: str, note: str, *, stamp: Stamp) -> doubting.Doubted | None:
    """Keep the answer to a line; what is refused goes back, what is not to be used is taken out of use at once."""
    transactions.assert_open()
    lots = list(Lot.objects.filter(delivery_line=line).select_related("item", "melt", "bar").order_by("id"))
    reason = Stamp(stamp.at, stamp.by, stamp.happened_at, stamp.device, note.strip()[:300])
    if said == "refused":
        done = doubting.send_back(lots, stamp=reason) if note.strip() else None
    elif said == "not to be used":
        done = doubting.out_of_use(lots, stamp=reason) if note.strip() else None
    else:
        done = None
    checking_in.answer(line, said, note, at=stamp.at, by=stamp.by)
    return done

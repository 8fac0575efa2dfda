"""The book worked out anew from its own rows, in plain Python and without a service or query of the shop.

Every test that lets many things happen asks here afterwards; `differences` is empty while the invariants hold. It is
written apart from the shop's own check so that one can find a fault of the other.
"""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator

from inventory.models import (
    Allocation,
    AllocationPart,
    CutPlanBar,
    Entry,
    Holding,
    Item,
    ItemStock,
    Lot,
    LotParent,
    Movement,
    Place,
    RecipePart,
)
from orders.models import Hold, Money, Order, OrderLine, Shipment, ShipmentLine, ShippedLot


def differences(*, tidied_at: dt.datetime | None = None) -> list[str]:
    """Return a sentence for each broken invariant; with `tidied_at` also lines that wait although pieces are free."""
    found = [*_stock(), *_set_aside(), *_lines(), *_shipments(), *_lots()]
    return [*found, *_starving(tidied_at)] if tidied_at else found


def _stock() -> Iterator[str]:
    places = {place.pk: place for place in Place.objects.all()}
    balance: Counter[tuple[int, int, int]] = Counter()
    lines: Counter[int] = Counter()
    outside: Counter[int] = Counter()
    item_of = dict(Lot.objects.values_list("id", "item_id"))
    for m in Movement.objects.all():
        lines[m.entry_id] += 1
        if m.item_id != item_of[m.lot_id]:
            yield f"movement {m.pk}: another item than its lot"
        if m.qty < 1:
            yield f"movement {m.pk}: moves {m.qty}"
        for sign, place, step in ((-1, m.from_place_id, m.from_step), (1, m.to_place_id, m.to_step)):
            balance[m.lot_id, place, step] += sign * m.qty
            if not places[place].inside:
                outside[m.lot_id] += sign * m.qty
    for entry in Entry.objects.all():
        if lines[entry.pk] != entry.lines:
            yield f"entry {entry.pk}: {lines[entry.pk]} movements, not {entry.lines}"
    there: Counter[int] = Counter()
    sellable: Counter[int] = Counter()
    allocated: Counter[int] = Counter()
    for h in Holding.objects.all():
        there[h.lot_id] += h.on_hand
        moved = balance.pop((h.lot_id, h.place_id, h.step), 0)
        if h.on_hand != moved:
            yield f"holding {h.pk}: {h.on_hand} there, movements say {moved}"
        if not 0 <= h.allocated <= h.on_hand:
            yield f"holding {h.pk}: {h.allocated} of {h.on_hand} set aside"
        if h.allocated and not (places[h.place_id].sellable and h.step == 0):
            yield f"holding {h.pk}: set aside where nothing is sold"
        if h.item_id != item_of[h.lot_id]:
            yield f"holding {h.pk}: another item than its lot"
        sellable[h.item_id] += h.on_hand if places[h.place_id].sellable and h.step == 0 else 0
        allocated[h.item_id] += h.allocated
    for (lot, place, step), qty in balance.items():
        if places[place].inside and qty:
            yield f"lot {lot} at {places[place].code} step {step}: {qty} moved there and no holding"
    for lot in item_of:
        if there[lot] + outside[lot]:
            yield f"lot {lot}: {there[lot]} inside and {outside[lot]} outside do not make nothing"
    for row in ItemStock.objects.all():
        if (row.sellable, row.allocated) != (sellable[row.item_id], allocated[row.item_id]):
            yield (
                f"item {row.item_id}: says {row.sellable}/{row.allocated}, "
                f"holdings say {sellable[row.item_id]}/{allocated[row.item_id]}"
            )


def _set_aside() -> Iterator[str]:
    on_holding: Counter[int] = Counter()
    contents: dict[int, Counter[int]] = defaultdict(Counter)
    closed = dict(Allocation.objects.values_list("id", "closed_at"))
    for part in AllocationPart.objects.filter(open=True).select_related("holding"):
        on_holding[part.holding_id] += part.qty
        contents[part.allocation_id][part.item_id] += part.qty
        if closed[part.allocation_id] is not None:
            yield f"part {part.pk}: open in closed allocation {part.allocation_id}"
        if part.item_id != part.holding.item_id:
            yield f"part {part.pk}: another item than its holding"
    for h in Holding.objects.all():
        if h.allocated != on_holding[h.pk]:
            yield f"holding {h.pk}: {h.allocated} set aside, open parts say {on_holding[h.pk]}"
    owners: Counter[int] = Counter()
    wanted: list[tuple[str, int, int, int]] = []
    for line in OrderLine.objects.all():
        if line.allocation_id:
            owners[line.allocation_id] += 1
            wanted.append((f"line {line.pk}", line.allocation_id, line.item_id or 0, line.reserved))
        elif line.reserved:
            yield f"line {line.pk}: {line.reserved} set aside and no allocation"
    for hold in Hold.objects.filter(ended_at=None):
        owners[hold.allocation_id or 0] += 1
        wanted.append((f"hold {hold.pk}", hold.allocation_id or 0, hold.item_id, hold.qty))
    for bar in CutPlanBar.objects.filter(allocation__isnull=False):
        owners[bar.allocation_id or 0] += 1
        wanted.append((f"plan bar {bar.pk}", bar.allocation_id or 0, bar.bar.lot.item_id, bar.length_nm))
    for allocation, closed_at in closed.items():
        if closed_at is None and owners[allocation] != 1:
            yield f"allocation {allocation}: {owners[allocation]} owners"
        if closed_at is not None and owners[allocation]:
            yield f"allocation {allocation}: closed and still owned"
    recipes = _recipes()
    for name, allocation, item, qty in wanted:
        held = contents[allocation]
        sets = qty - held[item]
        should = Counter({part: sets * per for part, per in recipes[item].items()} if sets > 0 else {})
        rest = Counter({part: n for part, n in held.items() if part != item})
        if sets < 0 or (sets and not recipes[item]) or rest != should:
            yield f"{name}: says {qty} of item {item}, its allocation holds {dict(held)}"


def _recipes() -> dict[int, dict[int, int]]:
    recipes: dict[int, dict[int, int]] = defaultdict(dict)
    for part in RecipePart.objects.all():
        recipes[part.tool_id][part.part_id] = part.quantity
    return recipes


def _lines() -> Iterator[str]:
    waiting: Counter[int] = Counter()
    owed: Counter[int] = Counter()
    for line in OrderLine.objects.all():
        waits = line.ordered - line.shipped - line.cancelled - line.reserved
        if min(line.shipped, line.cancelled, line.reserved, waits) < 0:
            yield f"line {line.pk}: {line.ordered} ordered do not come to {line.shipped} + {line.cancelled} + …"
        if line.gathers:
            waiting[line.item_id or 0] += waits
            if not waits:
                yield f"line {line.pk}: gathers and waits for nothing"
        owed[line.order_id] += line.ordered - line.shipped - line.cancelled
    for row in ItemStock.objects.all():
        if row.waiting != waiting[row.item_id]:
            yield f"item {row.item_id}: says {row.waiting} waited for, lines say {waiting[row.item_id]}"
    money: Counter[int] = Counter()
    for order_id, amount in Money.objects.values_list("order_id", "amount_minor"):
        money[order_id] += amount
    for order in Order.objects.all():
        if order.received_minor != money[order.pk]:
            yield f"order {order.number}: says {order.received_minor} received, money lines say {money[order.pk]}"
        if (order.closed_at is None) != (owed[order.pk] > 0):
            yield f"order {order.number}: {owed[order.pk]} owed, closed at {order.closed_at}"


def _shipments() -> Iterator[str]:
    undone = set(Shipment.objects.filter(reversed_at__isnull=False).values_list("id", flat=True))
    reversed_entries = set(Entry.objects.filter(reverses__isnull=False).values_list("reverses_id", flat=True))
    lots: dict[int, Counter[int]] = defaultdict(Counter)
    for row in ShippedLot.objects.all():
        lots[row.shipment_line_id][row.lot_id] += row.qty
    sent: Counter[int] = Counter()
    by_shipment: dict[int, Counter[int]] = defaultdict(Counter)
    for row in ShipmentLine.objects.select_related("line"):
        if row.line.item_id and sum(lots[row.pk].values()) != row.qty:
            yield f"shipment line {row.pk}: {row.qty} sent, lots say {sum(lots[row.pk].values())}"
        by_shipment[row.shipment_id].update(lots[row.pk])
        if row.shipment_id not in undone:
            sent[row.line_id] += row.qty
    for line_id, shipped in OrderLine.objects.values_list("id", "shipped"):
        if shipped != sent[line_id]:
            yield f"line {line_id}: says {shipped} sent, shipments say {sent[line_id]}"
    moved: dict[int, Counter[int]] = defaultdict(Counter)
    for entry_id, lot_id, qty in Movement.objects.filter(entry__kind="shipment").values_list("entry", "lot", "qty"):
        moved[entry_id][lot_id] += qty
    for shipment in Shipment.objects.all():
        if by_shipment[shipment.pk] != moved[shipment.entry_id or 0]:
            yield f"shipment {shipment.number}: lots {by_shipment[shipment.pk]}, its entry moved other pieces"
        if (shipment.pk in undone) != (shipment.entry_id in reversed_entries):
            yield f"shipment {shipment.number}: undone in one book and not in the other"


def _lots() -> Iterator[str]:
    """A lot of tools names what went into it, in the amounts of its recipe, and never mixes melts."""
    recipes = _recipes()
    lots = {lot.pk: lot for lot in Lot.objects.select_related("item")}
    into: dict[int, Counter[int]] = defaultdict(Counter)
    melts: dict[int, set[int]] = defaultdict(set)
    for row in LotParent.objects.all():
        into[row.child_id][lots[row.parent_id].item_id] += row.quantity
        if lots[row.parent_id].melt_id:
            melts[row.child_id].add(lots[row.parent_id].melt_id)
    made = {m.lot_id: m.qty for m in Movement.objects.filter(entry__kind="made up", from_place__code="WORKED-UP")}
    for lot_id, lot in lots.items():
        if lot.item.kind != Item.Kind.TOOL or lot_id not in made:
            continue
        if into[lot_id] != Counter({part: per * made[lot_id] for part, per in recipes[lot.item_id].items()}):
            yield f"lot {lot.code}: {made[lot_id]} made from {dict(into[lot_id])}"
        if melts[lot_id] != ({lot.melt_id} if lot.melt_id else set()):
            yield f"lot {lot.code}: melts {melts[lot_id]} went into melt {lot.melt_id}"


def _starving(at: dt.datetime) -> Iterator[str]:
    """No line that gathers waits while pieces are free that it could take."""
    recipes = _recipes()
    free = {row.item_id: row.sellable - row.allocated for row in ItemStock.objects.all()}
    for line in OrderLine.objects.filter(gathers=True):
        item = line.item_id or 0
        sets = min((free[part] // per for part, per in recipes[item].items()), default=0)
        if free[item] + sets > 0:
            yield f"line {line.pk}: waits at {at} although {free[item]} and {sets} sets are free"

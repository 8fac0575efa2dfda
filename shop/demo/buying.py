"""The demo's buying: ordered when it falls to the reorder point, delivered after the supplier's usual days, now and then late."""

import datetime as dt

from django.db.models import F, Sum

from inventory.models import Claim, Item, ItemStock, PurchaseOrder, PurchaseOrderLine
from inventory.services import purchase_changes, purchasing
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.ledger import Stamp
from inventory.services.purchasing import ToBuy
from shop.demo import firms, goods, steel
from shop.demo.opening import Stage, melt_number
from shop.flows import delivering

DAYS_LATE = 7


def order_what_is_low(stage: Stage, *, today: dt.date, at: dt.datetime) -> None:
    """Order from each supplier what has fallen to its reorder point."""
    for firm in firms.SUPPLIERS:
        low = [item for item in _bought_from(stage, firm.name) if _is_low(item)]
        if not low:
            continue
        order = purchasing.open_order(
            stage.suppliers[firm.name],
            [_to_buy(stage, item) for item in low[:8]],
            ordered_on=today,
            wanted_on=today + dt.timedelta(days=firm.days + 4),
            at=at,
            by=stage.by,
        )
        day = today + dt.timedelta(days=firm.days)
        purchase_changes.send(order, PurchaseOrder.Sent.PRINTED, version=order.version, at=at, by=stage.by)
        purchasing.confirm(order, day, version=order.version, at=at, by=stage.by)


def take_in(stage: Stage, *, today: dt.date, at: dt.datetime) -> None:
    """Take in what the suppliers bring today."""
    due = PurchaseOrder.objects.filter(closed_at=None, confirmed_on__lte=today).select_related("supplier")
    for order in due.order_by("number"):
        firm = next(firm for firm in firms.SUPPLIERS if firm.name == order.supplier.name)
        late = DAYS_LATE if (order.number * 37) % 100 < firm.late_of_100 else 0
        if order.confirmed_on and today < order.confirmed_on + dt.timedelta(days=late):
            continue
        wanted = order.lines.select_related("item__grade", "item__section").order_by("number")
        lines = [_brought(stage, line) for line in wanted if not purchasing.complete(line)]
        paper = Paper(lines, supplier_paper=f"{stage.dice.randint(20000, 99999)}")
        came = delivering.receive(order.supplier, paper, stamp=Stamp(at=at, by=stage.by), order=order)
        steel.look(stage, came.delivery, at=at + dt.timedelta(hours=4), wrong=not Claim.objects.exists())


def _bought_from(stage: Stage, name: str) -> list[Item]:
    items = Item.objects.filter(supplier=stage.suppliers[name], active=True).exclude(reorder_point=None)
    return list(items.select_related("grade", "section").order_by("code"))


def _is_low(item: Item) -> bool:
    row = ItemStock.objects.get(pk=item.pk)
    lines = PurchaseOrderLine.objects.filter(item=item, order__closed_at=None)
    coming = lines.aggregate(n=Sum(F("qty") - F("received")))["n"] or 0
    return row.sellable - row.allocated + int(coming) <= (item.reorder_point or 0)


def _to_buy(stage: Stage, item: Item) -> ToBuy:
    units = max(1, (item.reorder_quantity or item.issue_per_buy) // item.issue_per_buy)
    if item.kind == Item.Kind.BAR:
        usual = next(bar.usual for bar in goods.BARS if stage.bars[bar.key].pk == item.pk)
        return ToBuy(item, f"{units} @ {usual}", price_minor=units * 9800)
    return ToBuy(item, f"{units} {item.buy_unit}", price_minor=units * _price(item.code))


def _price(code: str) -> int:
    for kind in goods.CONSUMABLES:
        if kind.code == code:
            return kind.price
    return next(price for handle, _, _, _, _, price in goods.HANDLES if handle == code)


def _brought(stage: Stage, line: PurchaseOrderLine) -> PaperLine:
    """Return what the lorry brings for one ordered line; one steel line in five is a bar short."""
    item, dice = line.item, stage.dice
    cost = f"{(line.price_minor or 0) / 100:.2f}"
    if item.kind != Item.Kind.BAR or item.grade is None or item.section is None:
        return PaperLine(order_line=str(line.number), item=item.code, quantity=line.typed, cost=cost)
    usual = next(bar.usual for bar in goods.BARS if stage.bars[bar.key].pk == item.pk)
    left = (line.bars or 1) - line.received_bars
    bars = max(1, left - (dice.random() < 0.2))
    cost = f"{(line.price_minor or 0) * bars / (line.bars or 1) / 100:.2f}"
    return PaperLine(
        order_line=str(line.number),
        item=item.code,
        grade=item.grade.code,
        shape=item.section.shape,
        size=item.section.typed,
        heat_number=melt_number(dice),
        mill="Invented Mill",
        bars=f"{bars} @ {usual}",
        measured="no",
        certificate="to come",
        cost=cost,
    )

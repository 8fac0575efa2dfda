"""A purchase order as the supplier reads it, on paper and in an e-mail: plain facts, no layout."""

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from inventory.models import Item, PurchaseOrder, PurchaseOrderLine
from inventory.queries import called_off, order_sum
from inventory.services import reading
from shop.flows.night import words
from shop.shared import shop_row, units
from shop.shared.models import Shop

_STEEL = (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD)


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line: how many, of what, and what the shop thinks it costs."""

    number: int
    many: str
    what: str
    code: str
    price: str


@dataclass(frozen=True, slots=True)
class Paper:
    """A purchase order in words; `total`, `freight`, `address` and `reach` are empty where nothing is known of them.

    `cancelled` says what the supplier had read in it and is not wanted any more.
    """

    number: int
    shop: str
    invented: bool
    address: str
    reach: str
    supplier: str
    ordered: dt.date
    wanted: dt.date | None
    lines: list[PaperLine]
    total: str
    freight: str
    papers: list[str]
    note: str
    cancelled: str


def of(order: PurchaseOrder) -> Paper:
    """Return the paper of an order."""
    shop, lines, cost = shop_row.the_shop(), list(order.lines.all()), order_sum.of(order)
    total = units.money(cost.goods, shop.currency) if cost.goods and not cost.unpriced else ""
    freight = ""
    if total and cost.freight is not None:
        freight = units.money(cost.freight, shop.currency) if cost.freight else "free"
    return Paper(
        order.number,
        shop.name,
        shop.invented,
        shop.address,
        reach(shop),
        order.supplier.name,
        order.ordered_on,
        order.wanted_on,
        [_line(line, shop.currency) for line in lines],
        total,
        freight,
        _papers(lines, shop.steel_papers),
        order.note,
        cancelled(order),
    )


def cancelled(order: PurchaseOrder) -> str:
    """Say what was cancelled after the supplier had the order; nothing where all of it stands."""
    gone = [f"{_gone(one)} of {_what(one.item)}" for one in called_off.of(order)]
    return f"Cancelled: {', '.join(gone)}." if gone else ""


def _gone(one: called_off.CalledOff) -> str:
    if one.bars is not None:
        return f"{one.bars} {words.plural('bar', one.bars)}"
    return words.spoken(one.item, one.qty)


def _line(line: PurchaseOrderLine, currency: str) -> PaperLine:
    price = units.money(line.price_minor, currency) if line.price_minor is not None else ""
    return PaperLine(line.number, many(line), _what(line.item), line.item.code, price)


def many(line: PurchaseOrderLine) -> str:
    """Write how many are ordered as they are bought: 7 bars of 20 ft; 3 dozen."""
    if line.bars is None:
        return words.spoken(line.item, line.qty)
    typed = Counter(one.typed for one in reading.bar_list(line.typed)) if line.typed else Counter()
    if sum(typed.values()) != line.bars:  # a part of it was cancelled
        return f"{line.bars} {words.plural('bar', line.bars)}, {units.as_taped(line.qty)} together"
    return ", ".join(f"{count} {words.plural('bar', count)} of {length}" for length, count in typed.items())


def _what(item: Item) -> str:
    if item.kind == Item.Kind.BAR and item.grade is not None and item.section is not None:
        return f"steel {item.grade.code}, {item.section.shape} {item.section.typed}"
    return item.name


def reach(shop: Shop) -> str:
    """Say how the shop is reached: phone and e-mail, what there is of them."""
    return ", ".join(one for one in (shop.phone, shop.email) if one)


def _papers(lines: list[PurchaseOrderLine], with_steel: str) -> list[str]:
    said = [with_steel] if with_steel and any(line.item.kind in _STEEL for line in lines) else []
    chemicals = [str(line.number) for line in lines if line.item.safety_sheet]
    if chemicals:
        of_lines = f"line {chemicals[0]}" if len(chemicals) == 1 else f"lines {', '.join(chemicals)}"
        said.append(f"With {of_lines}: the safety data sheet.")
    return said

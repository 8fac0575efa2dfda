"""The bars that a cut plan wants to buy: which lengths, how many, what they give and what is lost of them."""

from collections import Counter
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from inventory.models import CutPlan, PurchaseOrder
from inventory.queries import prices
from shop.flows.night import words
from shop.shared import units
from shop.staff import wording
from shop.staff.fields import typed_amount, typed_length

Answer = Mapping[str, Any]


def lengths(answer: Answer) -> Counter[int]:
    """Return how many bars of each length, nm, an answer buys."""
    return Counter(row["length_nm"] for row in answer["bars"] if row["bought"])


def order_address(plan: CutPlan, answer: Answer, currency: str) -> str:
    """Return the address of the written order with the bars of an answer filled in; nothing where it buys none."""
    bought = lengths(answer)
    if not bought:
        return ""
    typed = {one["nm"]: one.get("typed") or typed_length(one["nm"]) for one in plan.buyable}
    asked = {one["nm"]: one["price_minor"] for one in plan.buyable}
    filled: dict[str, object] = {"plan": plan.number}
    if plan.item.supplier is not None:
        filled["supplier"] = plan.item.supplier.name
    known = prices.noted([plan.item.supplier_id or 0]).get((plan.item.supplier_id or 0, plan.item_id), ())
    for n, (nm, count) in enumerate(sorted(bought.items(), reverse=True)):
        minor = asked[nm] * count if asked.get(nm) else None
        noted = prices.of_line(known, plan.item, nm * count, count)  # reckoned anew with whatever number is ordered
        price = typed_amount(minor, currency) if minor != noted else ""
        filled |= {f"item_{n}": plan.item.code, f"qty_{n}": f"{count} @ {typed.get(nm, typed_length(nm))}"}
        filled |= {f"price_{n}": price} if price else {}
    return f"{reverse('staff:door_order_new')}?{urlencode(filled)}"


def of_order(order: PurchaseOrder) -> str:
    """Say what the bars of an order give, by the answer of its cut plan that buys the same bars."""
    return said(order.cut_plan, order) if order.cut_plan is not None else ""


def said(plan: CutPlan, order: PurchaseOrder | None = None) -> str:
    """Say what the bars to be bought for a plan give, and what is lost of them; nothing where the plan buys none."""
    answer = _answer(plan, order)
    rows = [row for row in answer["bars"] if row["bought"]] if answer else []
    if not rows:
        return ""
    piece = {line.number: line.piece_nm for line in plan.lines.all()}
    blanks = sum(len(row["pieces"]) for row in rows)
    whole = sum(row["length_nm"] for row in rows)
    kept = [row["left_nm"] for row in rows if row["kept"]]
    thrown = sum(row["left_nm"] for row in rows if not row["kept"])
    cuts = whole - thrown - sum(kept) - sum(piece.get(number, 0) for row in rows for number in row["pieces"])
    wasted = 100 * (thrown + cuts) / whole
    bars = ", ".join(
        f"{words.count(count, 'bar')} of {units.as_taped(nm)}" for nm, count in sorted(lengths(answer or {}).items())
    )
    stays = f"; {words.count(len(kept), 'remnant')} of up to {units.as_taped(max(kept))} stay" if kept else ""
    return (
        f"{words.capital(bars)} give {wording.figures(blanks)} {words.plural('blank', blanks)}. Waste: {_length(thrown)} of ends and"
        f" {_length(cuts)} of saw cuts and mill ends, {wasted:.1f} of 100{stays}."
    )


def _length(nm: int) -> str:
    return units.as_taped(nm) if nm else "nothing"


def _answer(plan: CutPlan, order: PurchaseOrder | None) -> Answer | None:
    answers = plan.answers if plan.chosen is None else [plan.answers[plan.chosen]]
    buying: list[Answer] = [one for one in answers if lengths(one)]
    if order is not None:
        ordered: Counter[int] = Counter()
        for line in order.lines.all():
            if line.item_id == plan.item_id and line.bars:
                ordered[line.qty // line.bars] += line.bars
        buying = [one for one in buying if lengths(one) == ordered] or buying
    return buying[0] if buying else None


def buyable(item_id: int, supplier_id: int | None, currency: str) -> str:
    """Return the lengths a steel is sold in with the price of one bar, as the question of a cut plan takes them."""
    return ", ".join(
        f"{typed_length(nm)} at {typed_amount(minor, currency)}" for nm, minor in prices.by_length(item_id, supplier_id)
    )

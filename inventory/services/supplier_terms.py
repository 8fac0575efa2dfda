"""What a supplier asks: smallest order, carriage by steps, prices by quantity and length, each with the day it was noted."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.models import Freight, Item, Supplier, SupplierPrice
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

MOST_MINOR = 10**12
MOST_STEPS = 12
MOST_PRICES = 2_000
_LONGEST_NM = 100_000_000_000


@dataclass(frozen=True, slots=True)
class Step:
    """Carriage from a value or a mass on; both 0: for every order."""

    freight_minor: int
    from_minor: int = 0
    from_mass_mg: int = 0


def set_terms(
    supplier: Supplier,
    *,
    min_order_minor: int,
    order_cost_minor: int | None,
    lead_days: int | None,
    freight: Sequence[Step],
    at: dt.datetime,
    by: Actor,
) -> Supplier:
    """Set a supplier's terms; carriage is written anew as a whole."""
    transactions.assert_open()
    for field, label, minor in (
        ("min_order", "Smallest order", min_order_minor), ("order_cost", "An order costs", order_cost_minor or 0),
    ):  # fmt: skip
        if not 0 <= minor <= MOST_MINOR:
            raise Invalid.field(field, f"{label}: an amount of 0 or more would work.")
    if lead_days is not None and not 0 <= lead_days <= 730:
        raise Invalid.field("lead_days", "Days until it comes: 0 to 730 would work.")
    _check(freight)
    supplier = Supplier.objects.select_for_update().get(pk=supplier.pk)  # what it was before is then what is written
    before = {**_plain(supplier), "freight": _steps(supplier)}
    Supplier.objects.filter(pk=supplier.pk).update(
        min_order_minor=min_order_minor, order_cost_minor=order_cost_minor, lead_days=lead_days
    )
    supplier.refresh_from_db()
    Freight.objects.filter(supplier=supplier).delete()
    Freight.objects.bulk_create(
        Freight(
            supplier=supplier, freight_minor=one.freight_minor, from_minor=one.from_minor, from_mass_mg=one.from_mass_mg
        )
        for one in freight
    )
    after = {**_plain(supplier), "freight": _steps(supplier)}
    if before != after:
        audit.write(
            at=at,
            by=by.label,
            action="supplier terms changed",
            subject=f"supplier {supplier.pk}",
            before=before,
            after=after,
        )
    return supplier


def _check(freight: Sequence[Step]) -> None:
    if len(freight) > MOST_STEPS:
        raise Invalid.field("freight", f"Carriage: at most {MOST_STEPS} steps can be kept.")
    starts = [(one.from_minor, one.from_mass_mg) for one in freight]
    if len(set(starts)) != len(starts):
        raise Invalid.field("freight", "Carriage: two steps begin at the same value or weight; write each once.")
    for one in freight:
        if one.from_minor and one.from_mass_mg:
            raise Invalid.field("freight", "Carriage: a step begins at a value or at a weight, not at both.")
        if not 0 <= one.freight_minor <= MOST_MINOR or not 0 <= one.from_minor <= MOST_MINOR or one.from_mass_mg < 0:
            raise Invalid.field("freight", "Carriage: amounts of 0 or more would work.")


def _plain(supplier: Supplier) -> dict[str, object]:
    return {
        "min_order_minor": supplier.min_order_minor,
        "order_cost_minor": supplier.order_cost_minor,
        "lead_days": supplier.lead_days,
    }


def _steps(supplier: Supplier) -> list[list[int]]:
    rows = Freight.objects.filter(supplier=supplier).order_by("from_minor", "from_mass_mg")
    return [[one.from_minor, one.from_mass_mg, one.freight_minor] for one in rows]


def note_price(
    supplier: Supplier,
    item: Item,
    price_minor: int,
    *,
    noted_on: dt.date,
    at: dt.datetime,
    by: Actor,
    length_nm: int = 0,
    from_qty: int = 1,
    bundle: int = 1,
) -> SupplierPrice:
    """Note what a supplier asks for one unit bought, or one bar of a length; the one before it is replaced."""
    transactions.assert_open()
    if not 0 <= price_minor <= MOST_MINOR:
        raise Invalid.field("price", "Price: an amount of 0 or more would work.")
    if (item.kind == Item.Kind.BAR) != (length_nm > 0):
        said = (
            "say in which length the bar is sold"
            if item.kind == Item.Kind.BAR
            else f"{item.code} is no bar; leave it empty"
        )
        raise Invalid.field("length", f"Length: {said}.")
    if item.unit in {Item.Unit.MG, Item.Unit.UL} and not item.buy_unit:
        raise Invalid.field(
            "item",
            f"{item.code} is weighed or measured, and a price is of what is bought at once; write first by what it is"
            " bought, such as a pail of 5 gal.",
        )
    if not 0 <= length_nm <= _LONGEST_NM:
        raise Invalid.field("length", "Length: up to 100 m would work.")
    if not 1 <= from_qty <= 1_000_000 or not 1 <= bundle <= 10_000:
        raise Invalid.field("from_qty", "From how many, and sold by: 1 or more would work.")
    where: dict[str, Any] = {"supplier": supplier, "item": item, "length_nm": length_nm, "from_qty": from_qty}
    before = SupplierPrice.objects.filter(**where).values("price_minor", "bundle").first()
    if before is None and SupplierPrice.objects.filter(supplier=supplier).count() >= MOST_PRICES:
        raise Invalid.field("item", f"Prices: {MOST_PRICES} are noted already; take old ones away.")
    facts: dict[str, Any] = {"price_minor": price_minor, "bundle": bundle, "noted_on": noted_on}
    made, _ = SupplierPrice.objects.update_or_create(**where, defaults=facts)
    audit.write(
        at=at, by=by.label, action="price noted", subject=f"supplier {supplier.pk}", before=before,
        after={"item": item.code, "length_nm": length_nm, "from": from_qty, "price_minor": price_minor, "bundle": bundle},
    )  # fmt: skip
    return made


def take_price_away(supplier: Supplier, price_id: int, *, at: dt.datetime, by: Actor) -> None:
    """Take a noted price away."""
    transactions.assert_open()
    found = SupplierPrice.objects.filter(supplier=supplier, pk=price_id).select_related("item").first()
    if found is None:
        raise NotFound("This price is not noted any more; look at the list again.")
    found.delete()
    audit.write(
        at=at, by=by.label, action="price taken away", subject=f"supplier {supplier.pk}",
        before={"item": found.item.code, "length_nm": found.length_nm, "from": found.from_qty, "price_minor": found.price_minor},
    )  # fmt: skip

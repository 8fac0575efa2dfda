"""From a lot up to the melt and down to what was made of it: one query each way, however long the family is."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import connection
from django.db.models import Q, Sum

from inventory.models import Certificate, Delivery, Holding, Lot, Melt
from shop.shared import units

MOST = 5000

_FAMILY = """
WITH RECURSIVE family(child_id, parent_id, quantity) AS (
    SELECT child_id, parent_id, quantity FROM inventory_lotparent WHERE {come} IN ({marks})
    UNION
    SELECT p.child_id, p.parent_id, p.quantity FROM family f {join}
)
SELECT child_id, parent_id, quantity FROM family ORDER BY {come}, {go} LIMIT %s
"""
_JOIN = {
    "sqlite": "JOIN inventory_lotparent p ON p.{come} = f.{go}",
    # It guesses a family ten times as large as it is and would read the whole table; OFFSET keeps it at the index.
    "postgresql": "CROSS JOIN LATERAL (SELECT * FROM inventory_lotparent q WHERE q.{come} = f.{go} OFFSET 0) p",
}


@dataclass(frozen=True, slots=True)
class Kin:
    """So much of the parent went into the child."""

    child: int
    parent: int
    qty: int


@dataclass(frozen=True, slots=True)
class Node:
    """One lot of a family with what is left of it, how much of it came from the node above, and what follows."""

    lot: Lot
    left: int
    qty: int | None
    follows: tuple["Node", ...]


def up(lot_ids: Iterable[int]) -> list[Kin]:
    """Return every step from these lots back to where they came from."""
    return _walk("child_id", "parent_id", lot_ids)


def down(lot_ids: Iterable[int]) -> list[Kin]:
    """Return every step from these lots on to what was made of them."""
    return _walk("parent_id", "child_id", lot_ids)


def _walk(come: str, go: str, lot_ids: Iterable[int]) -> list[Kin]:
    ids = sorted(set(lot_ids))[:MOST]
    if not ids:
        return []
    # Only names of columns and as many question marks as there are numbers go into the text; the numbers are bound.
    join = _JOIN[connection.vendor].format(come=come, go=go)
    text = _FAMILY.format(come=come, go=go, join=join, marks=", ".join(["%s"] * len(ids)))
    with connection.cursor() as cursor:
        cursor.execute(text, [*ids, MOST])
        return [Kin(*row) for row in cursor.fetchall()]


def roots(lot_ids: Iterable[int], steps: Sequence[Kin]) -> list[int]:
    """Return where the walk up ends: the lots that came from no other lot."""
    ids = set(lot_ids) | {step.parent for step in steps}
    return sorted(ids - {step.child for step in steps})


def forward(start: Iterable[int], steps: Sequence[Kin]) -> list[Node]:
    """Return the families of these lots as trees, each lot with what is left of it in the shop."""
    start = sorted(set(start))
    ids = {*start, *(step.child for step in steps)}
    lots = Lot.objects.select_related("item__section", "melt", "bar", "entry__reversed_by").in_bulk(ids)
    left = dict(
        Holding.objects.filter(lot__in=ids, place__inside=True, on_hand__gt=0)
        .values_list("lot_id")
        .annotate(total=Sum("on_hand"))
    )
    below: dict[int, list[Kin]] = defaultdict(list)
    for step in steps:
        below[step.parent].append(step)

    def node(lot_id: int, qty: int | None) -> Node:
        follows = tuple(node(step.child, step.qty) for step in below[lot_id])
        return Node(lots[lot_id], int(left.get(lot_id, 0)), qty, follows)

    return [node(lot_id, None) for lot_id in start]


def lots_of_melt(melt: Melt) -> list[int]:
    """Return the lots of a melt that came from outside: bars and whatever was moved in."""
    return list(Lot.objects.filter(melt=melt, parents=None).order_by("id").values_list("id", flat=True)[:MOST])


def find_lots(text: str) -> list[Lot]:
    """Return what a code may mean: the lot of this code, or the bar of this number."""
    wanted = text.strip().upper()
    return list(
        Lot.objects.filter(Q(code=wanted) | Q(bar__number=wanted))
        .select_related("item", "melt", "bar", "entry")
        .order_by("id")[:5]
    )


def find_lot(number: int) -> Lot | None:
    """Return a lot by its number in the table."""
    return Lot.objects.select_related("item__section", "melt__grade", "bar", "entry").filter(pk=number).first()


def find_melts(text: str) -> list[Melt]:
    """Return the melts of a mill heat number; two mills may have the same one."""
    return list(Melt.objects.filter(heat_number=text.strip(), known=True).select_related("grade").order_by("id")[:10])


def find_certificates(text: str) -> list[Certificate]:
    """Return the certificates of a number, however it is capitalised, with the melts they are of."""
    found = Certificate.objects.filter(number__iexact=text.strip()).select_related("melt__grade")
    return list(found.order_by("id")[:10]) if text.strip() else []


def find_deliveries(text: str) -> list[Delivery]:
    """Return the deliveries that came: the one of this number, and those of this number on the supplier's slip."""
    wanted = Q(supplier_paper__iexact=text.strip())
    number = units.plain_number(text)
    if number is not None:
        wanted |= Q(number=number)
    found = Delivery.objects.filter(wanted, entry__isnull=False).select_related("supplier")
    return list(found.order_by("id")[:10]) if text.strip() else []


def melts_of_delivery(delivery: Delivery) -> list[Melt]:
    """Return the melts that came with a delivery."""
    return list(
        Melt.objects.filter(delivery_lines__delivery=delivery).select_related("grade").distinct().order_by("id")
    )


def find_melt(number: int) -> Melt | None:
    """Return a melt by its number in the table."""
    return Melt.objects.select_related("grade").filter(pk=number).first()

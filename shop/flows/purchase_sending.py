"""A purchase order goes to its supplier, and is asked after: the row of the order and the e-mail in one transaction."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.core.validators import EmailValidator, MaxLengthValidator
from django.db.models import Q

from inventory.models import PurchaseOrder
from inventory.services import purchase_changes
from shop.access.actor import Actor
from shop.flows import purchase_letters, purchase_paper
from shop.flows.purchase_letters import Letter
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid
from shop.shared.mail import outbox
from shop.shared.models import Message

LONGEST_ADDRESS = 254
MOST_A_DAY = 9  # letters of one kind about one order to one address
Sent = PurchaseOrder.Sent
_UNDER_WAY = (Message.State.WAITING, Message.State.CLAIMED, Message.State.HANDED)


@dataclass(frozen=True, slots=True)
class Carried:
    """A letter about an order, for whom, and how far it is: waiting, sent or given up; `said` is the last of its log."""

    message: Message
    asking: bool
    state: str
    said: str


def letter(order: PurchaseOrder, *, zone: str) -> Letter:
    """Return the letter that orders, as it would go now: one that went out before says so."""
    first = clock.local_date(order.sent_at, zone) if order.sent_at is not None else None
    return purchase_letters.ordering(purchase_paper.of(order), first_sent=first)


def send(order: PurchaseOrder, how: str, *, version: int, at: dt.datetime, by: Actor, to: str = "") -> PurchaseOrder:
    """Send an order: by e-mail the letter is written with it, printed or said on the phone it is noted."""
    zone = shop_row.the_shop().zone
    to = _address(to) if how == Sent.EMAIL else ""
    written = letter(order, zone=zone)
    purchase_changes.send(order, how, version=version, at=at, by=by, to=to)
    if to:
        _write(order, "purchase", to, written, at=at, zone=zone)
    return order


def ask_where(order: PurchaseOrder, *, version: int, at: dt.datetime, by: Actor, to: str = "") -> PurchaseOrder:
    """Note that the supplier was asked today where an order is; with an address the question goes there by e-mail."""
    zone = shop_row.the_shop().zone
    to = _address(to) if to else ""
    purchase_changes.asked(order, clock.local_date(at, zone), version=version, at=at, by=by, to=to)
    if to:
        _write(order, "asked", to, purchase_letters.where_is_it(order), at=at, zone=zone)
    return order


def carried(order: PurchaseOrder) -> list[Carried]:
    """Return the letters about an order, the oldest first."""
    rows = Message.objects.filter(kind__in=[*_kinds(order, "purchase"), *_kinds(order, "asked")]).order_by("id")
    return [_carried(row) for row in rows]


def carried_of(orders: Iterable[PurchaseOrder]) -> Mapping[int, list[Carried]]:
    """Return the letters about many orders by their numbers, the oldest first, in one question to the database."""
    numbers = {str(order.number): order.number for order in orders}
    found: dict[int, list[Carried]] = {number: [] for number in numbers.values()}
    about = Q(kind__startswith="purchase ") | Q(kind__startswith="asked ")
    for row in Message.objects.filter(about).order_by("id").iterator(chunk_size=2_000):
        number = row.kind.partition(" ")[2].partition(".")[0]
        if number in numbers:
            found[numbers[number]].append(_carried(row))
    return found


def _carried(row: Message) -> Carried:
    said = row.log[-1]["said"] if row.log else ""
    return Carried(row, row.kind.startswith("asked"), _state(row), said)


def _state(row: Message) -> str:
    if row.state in _UNDER_WAY:
        return "waiting"
    return "sent" if row.state == Message.State.SENT else "given up"


def _kinds(order: PurchaseOrder, about: str) -> Sequence[str]:
    """Return what the letters of one day are called; kind, day and recipient are one message."""
    first = f"{about} {order.number}"
    return [first, *(f"{first}.{n}" for n in range(2, MOST_A_DAY + 1))]


def _write(order: PurchaseOrder, about: str, to: str, written: Letter, *, at: dt.datetime, zone: str) -> None:
    kinds, today = _kinds(order, about), clock.local_date(at, zone)
    earlier = Message.objects.filter(kind__in=kinds, recipient__iexact=to)
    if earlier.filter(state__in=_UNDER_WAY).exists():
        raise Invalid.field(
            "to", f"E-mail: a letter about order {order.number} still waits to go to {to}; let it go first."
        )
    used = set(earlier.filter(local_date=today).values_list("kind", flat=True))
    free = [kind for kind in kinds if kind not in used]
    if not free:
        raise Invalid.field("to", f"E-mail: {MOST_A_DAY} letters went to {to} today; call them instead.")
    outbox.write(
        kind=free[0],
        local_date=today,
        recipient=to,
        subject=written.subject,
        text=written.text,
        html=written.html,
        at=at,
        by_hand=True,
    )


def _address(typed: str) -> str:
    typed = typed.strip()
    try:
        EmailValidator()(typed)
        MaxLengthValidator(LONGEST_ADDRESS)(typed)
    except ValidationError:
        raise Invalid.field("to", "E-mail: write the supplier's address, such as orders@supplier.example.") from None
    return typed

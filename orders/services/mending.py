"""Pieces that customers bring to be mended: their property, never stock."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from orders.models import BroughtIn, Customer
from orders.services import customers
from shop.access.actor import Actor
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid, Refusal

if TYPE_CHECKING:
    from inventory.models import Entry, Item


class NotDone(Refusal):
    """A piece can be given back only when it is done, and once."""

    code = "not_done"


@dataclass(frozen=True, slots=True)
class Brought:
    """What was brought and what is to be done to it."""

    what: str
    wanted: str
    handle: Item | None = None
    wedge: Item | None = None
    ready_by: dt.date | None = None
    price_minor: int | None = None


def owner(name: str, *, at: dt.datetime, by: Actor) -> Customer:
    """Return the customer of this name, added where new."""
    plain = " ".join(name.split())
    found = Customer.objects.filter(name__iexact=plain).order_by("pk").first()
    return found or customers.add(
        name=plain, kind=Customer.Kind.ONE_OFF, email="", phone="", address="", terms="", at=at, by=by
    )


def bring_in(customer: Customer, brought: Brought, *, at: dt.datetime, by: Actor) -> BroughtIn:
    """Take a customer's piece in."""
    transactions.assert_open()
    for name, text in (("what", brought.what), ("wanted", brought.wanted)):
        if not text.strip():
            raise Invalid.field(name, f"{name.capitalize()}: write in a few words what it is and what is to be done.")
    if brought.price_minor is not None and brought.price_minor < 0:
        raise Invalid.field("price_minor", "Price: 0 or more would work.")
    if brought.handle is not None and brought.handle.kind != "handle":
        raise Invalid.field("handle", f"Handle: {brought.handle.code} is a {brought.handle.kind}; choose a handle.")
    made = BroughtIn.objects.create(
        number=series.take("brought in"),
        customer=customer,
        what=brought.what.strip()[:120],
        wanted=brought.wanted.strip()[:300],
        handle=brought.handle,
        wedge=brought.wedge,
        came_at=at,
        ready_by=brought.ready_by,
        price_minor=brought.price_minor,
        by=by.person,
    )
    _audit(made, "piece brought in", at, by)
    return made


def done(piece: BroughtIn, *, entry: Entry | None, minutes: int | None, at: dt.datetime, by: Actor) -> BroughtIn:
    """Note that the work is done and what was used on it."""
    transactions.assert_open()
    if piece.done_at is not None:
        raise NotDone(f"Piece {piece.number} was done on {piece.done_at:%Y-%m-%d} already; give it back.")
    if minutes is not None and not 1 <= minutes <= 100_000:
        raise Invalid.field("minutes", "Minutes: 1 or more would work, or leave it empty.")
    piece.done_at, piece.entry, piece.minutes = at, entry, minutes
    piece.save(update_fields=["done_at", "entry", "minutes"])
    _audit(piece, "piece mended", at, by)
    return piece


def give_back(piece: BroughtIn, *, at: dt.datetime, by: Actor) -> BroughtIn:
    """Give a piece back to its owner."""
    transactions.assert_open()
    if piece.done_at is None or piece.given_back_at is not None:
        raise NotDone(f"Piece {piece.number} is {'given back already' if piece.given_back_at else 'not done yet'}.")
    piece.given_back_at = at
    piece.save(update_fields=["given_back_at"])
    _audit(piece, "piece given back", at, by)
    return piece


def _audit(piece: BroughtIn, action: str, at: dt.datetime, by: Actor) -> None:
    audit.write(
        at=at, by=by.label, action=action, subject=f"piece {piece.number}", after={"customer": piece.customer.name}
    )

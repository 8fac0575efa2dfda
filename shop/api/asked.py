"""Bodies and look-ups that several addresses share: items by code, money, quantities, who buys, and shortages."""

import contextlib
from collections.abc import Iterator, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db.models import Q

from inventory.models import Item
from inventory.services import demand
from inventory.services.allocating import NotEnough
from orders.models import Customer
from orders.services import customers
from shop.api import fields
from shop.api.view import Call
from shop.flows.ordering import Buyer, NewCustomer
from shop.shared import units
from shop.shared.errors import Invalid, Refusal

ITEM_CODE = 30
BELOW_MINIMUM = "Take it all the same where it comes to less than this customer's orders come to."


class BuyerBody(fields.Body):
    """Who buys: somebody the shop knows, by id, or somebody new, by name."""

    id = fields.Whole(low=1, high=10**12, required=False, help_text="A customer the shop knows.")
    name = fields.Text(longest=120, required=False, help_text="Somebody who has not bought before.")
    kind = fields.Word(choices=list(Customer.Kind.values), required=False)
    email = fields.Text(longest=254, required=False, allow_blank=True)
    phone = fields.Text(longest=40, required=False, allow_blank=True)
    address = fields.Text(longest=600, lines=True, required=False, allow_blank=True)


def buyer(body: Mapping[str, Any], field: str = "customer") -> Buyer:
    """Return the customer of a body: found by id, or somebody new."""
    if ("id" in body) == ("name" in body):
        raise Invalid.field(field, "Name a customer by id, or give the name of a new one: one of the two.")
    if "name" in body:
        _check_email(body.get("email", "").strip(), f"{field}.email")
        return NewCustomer(**body)
    if len(body) > 1:
        raise Invalid.field(field, "A customer named by id keeps what is known; leave the other names out.")
    found = Customer.objects.filter(pk=body["id"], active=True).first()
    if found is None:
        raise Invalid.field(f"{field}.id", f"There is no customer {body['id']}; give the name of a new one.")
    return found


def _check_email(text: str, field: str) -> None:
    try:
        if text:
            validate_email(text)
    except ValidationError as why:
        raise Invalid.field(field, customers.NO_EMAIL) from why


def item(code: str, field: str = "item") -> Item:
    """Return the item of a code named in a body."""
    found = Item.objects.filter(code=code).first()
    if found is None:
        raise Invalid.field(field, f"There is no item {code}; read the list of items.")
    return found


def items(codes: Mapping[str, str]) -> dict[str, Item]:
    """Return items by code for several fields of a body (field to code), with one query."""
    found = {made.code: made for made in Item.objects.filter(Q(code__in=set(codes.values())))}
    wrong = {
        field: f"There is no item {code}; read the list of items." for field, code in codes.items() if code not in found
    }
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    return found


def minor(text: str, currency: str, field: str) -> int:
    """Return an amount of a body in the currency's smallest unit."""
    return units.parse_money(text, units.money_exponent(currency), field=field).minor


@contextlib.contextmanager
def in_units_of(known: Mapping[str, Item], only: Item | None = None) -> Iterator[None]:
    """Tell a shortage in the unit of its item, as every figure of the API is told."""
    try:
        yield
    except NotEnough as refusal:
        short = known.get(str(refusal.facts.get("item", ""))) or only
        if short is not None:
            told: dict[str, object] = {
                name: fields.quantity(int(str(refusal.facts[name])), short.unit)
                for name in ("available", "requested")
                if name in refusal.facts
            }
            refusal.facts |= told | {"item": short.code, "unit": fields.unit_name(short.unit)}
        raise


def note_shortage(call: Call, refusal: Refusal) -> None:
    """Write down what was asked for and could not be given."""
    facts = refusal.facts
    if not isinstance(refusal, NotEnough) or "item" not in facts or "requested" not in facts:
        return
    short = Item.objects.get(code=str(facts["item"]))
    demand.note_refused(
        short.pk,
        fields.to_raw(str(facts["requested"]), short.unit, "quantity"),
        available=_raw(str(facts["available"]), short),
        at=call.at,
        asked_by=call.by,
    )


def _raw(text: str, short: Item) -> int:
    return 0 if text == "0" else fields.to_raw(text, short.unit, "quantity")

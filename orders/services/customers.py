"""Who buys: writing a customer down and changing what is known of them."""

import datetime as dt

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db.models import F

from orders.models import Customer
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid

NO_EMAIL = "This is no e-mail address; name@example.org would work, or leave it empty."
CHANGEABLE = frozenset({"name", "kind", "email", "phone", "address", "terms", "minimum_minor", "takes_parts", "active"})
MOST_MINIMUM = 100_000_000_00
_LONGEST = {"name": 120, "phone": 40, "address": 600, "terms": 200}


def add(
    *,
    name: str,
    at: dt.datetime,
    by: Actor,
    kind: str = Customer.Kind.ONE_OFF,
    email: str = "",
    phone: str = "",
    address: str = "",
    terms: str = "",
    minimum_minor: int = 0,
    takes_parts: bool = True,
) -> Customer:
    """Write a new customer down."""
    transactions.assert_open()
    customer = Customer(
        name=name.strip(),
        kind=kind,
        email=email.strip(),
        phone=phone.strip(),
        address=address.strip(),
        terms=terms,
        minimum_minor=minimum_minor,
        takes_parts=takes_parts,
    )
    _check(customer)
    customer.save(force_insert=True)
    audit.write(
        at=at,
        by=by.label,
        action="customer added",
        subject=f"customer {customer.pk}",
        after={"name": customer.name, "kind": customer.kind},
    )
    return customer


def change(customer: Customer, *, at: dt.datetime, by: Actor, **facts: object) -> Customer:
    """Change what is known of a customer; orders that were taken keep the address they were taken with."""
    transactions.assert_open()
    unknown = sorted(set(facts) - CHANGEABLE)
    if unknown:
        raise Invalid.field(unknown[0], f"{unknown[0]} of a customer cannot be changed; choose another field.")
    before = {name: getattr(customer, name) for name in facts}
    for name, value in facts.items():
        setattr(customer, name, value.strip() if isinstance(value, str) else value)
    _check(customer)
    after = {name: getattr(customer, name) for name in facts}
    if before != after:
        customer.save(update_fields=sorted(facts))
        audit.write(
            at=at,
            by=by.label,
            action="customer changed",
            subject=f"customer {customer.pk}",
            before=before,
            after=after,
        )
    return customer


def hold_still(customer: Customer) -> Customer:
    """Lock a customer's row and read it again, so that what was read is what is changed."""
    transactions.assert_open()
    Customer.objects.filter(pk=customer.pk).update(name=F("name"))
    return Customer.objects.get(pk=customer.pk)


def _check(customer: Customer) -> None:
    wrong = {}
    if not customer.name:
        wrong["name"] = "The name is empty; write who buys."
    if customer.kind not in Customer.Kind.values:
        wrong["kind"] = f"A customer is {' or '.join(Customer.Kind.values)}, not {customer.kind[:20]!r}."
    for name, longest in _LONGEST.items():
        if len(getattr(customer, name)) > longest:
            wrong[name] = f"The {name} is longer than {longest} characters; shorten it."
    if not 0 <= customer.minimum_minor <= MOST_MINIMUM:
        wrong["minimum_minor"] = (
            "The minimum is below nothing or absurdly high; write what an order comes to at the least."
        )
    if customer.email:
        try:
            validate_email(customer.email)
        except ValidationError:
            wrong["email"] = NO_EMAIL
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)

"""Customers: what an order of theirs comes to at the least, whether they take parts, what was agreed."""

from typing import Any, ClassVar

from orders.models import Customer
from orders.queries import customers as queries
from orders.services import customers
from shop.api import asked, etags, fields, paging, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid, NotFound
from shop.shared.shop_row import the_shop

TAG = "Customers"
CUSTOMER = shapes.thing(
    id=shapes.WHOLE,
    kind=shapes.words(*Customer.Kind.values),
    name=shapes.maybe(shapes.TEXT),
    address=shapes.maybe(shapes.TEXT),
    terms=shapes.TEXT,
    minimum=shapes.MONEY,
    takes_parts=shapes.YES_NO,
    active=shapes.YES_NO,
)
_EXAMPLE = {
    "id": 8,
    "kind": "dealer",
    "name": "Example Dealer",
    "address": "1 Example Lane",
    "terms": "30 days",
    "minimum": {"amount": "250.00", "currency": "USD"},
    "takes_parts": True,
    "active": True,
}


class CustomerBody(fields.Body):
    """What is agreed with a customer."""

    terms = fields.Text(longest=200, required=False, allow_blank=True)
    minimum = fields.Money(required=False, help_text="An order of theirs comes to so much or more; 0.00 for none.")
    takes_parts = fields.YesNo(required=False, help_text="Takes a part of an order before the rest.")


def shown(one: Customer, call: Call) -> dict[str, Any]:
    """Return a customer; name and address only to keys that may see them."""
    named = call.may("addresses:read")
    return {
        "id": one.pk,
        "kind": one.kind,
        "name": one.name if named else None,
        "address": one.address if named else None,
        "terms": one.terms,
        "minimum": fields.money(one.minimum_minor, the_shop().currency),
        "takes_parts": one.takes_parts,
        "active": one.active,
    }


class Customers(Endpoint):
    """Who buys."""

    operations: ClassVar = {
        "GET": Operation(
            name="listCustomers",
            summary="List customers",
            tag=TAG,
            words="Customers by id. Names and addresses are null without the scope `addresses:read`.",
            query=(
                reading.Choice("kind", "Only customers of this kind.", choices=tuple(Customer.Kind.values)),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply(
                    "One page of customers.", shapes.page(CUSTOMER), {"rows": [_EXAMPLE], "next": None}, ("Link",)
                )
            },
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = queries.listed()
        if call.query["kind"]:
            found = found.filter(kind=call.query["kind"])
        page = paging.page(found, call.request, dict(call.query), by="pk")
        return reply({"rows": [shown(one, call) for one in page.rows], "next": page.next}, headers=page.headers)


class OneCustomer(Endpoint):
    """One customer."""

    operations: ClassVar = {
        "GET": Operation(
            name="readCustomer",
            summary="Read one customer",
            tag=TAG,
            words="A customer with what is agreed, and the tag that changing it asks for.",
            replies={200: Reply("The customer.", CUSTOMER, _EXAMPLE)},
        ),
        "PATCH": Operation(
            name="changeCustomer",
            summary="Change what is agreed with a customer",
            tag=TAG,
            words=(
                "Changes the terms, the minimum and whether the customer takes parts. An order under the minimum is "
                "refused unless it says `below_minimum`; orders that were taken stay as they are."
            ),
            body=CustomerBody,
            example={"minimum": "250.00", "takes_parts": False},
            replies={200: Reply("The customer.", CUSTOMER, _EXAMPLE)},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(_find(call), call))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        one = customers.hold_still(_find(call))
        etags.check(call.tags, reply(shown(one, call)).headers["ETag"].strip('"'))
        facts = dict(call.body)
        if not facts:
            raise Invalid("Name at least one thing to change.")
        if "minimum" in facts:
            facts["minimum_minor"] = asked.minor(facts.pop("minimum"), the_shop().currency, "minimum")
        return reply(shown(customers.change(one, at=call.at, by=call.actor, **facts), call))


def _find(call: Call) -> Customer:
    found = queries.find(call.path["id"])
    if found is None:
        raise NotFound(f"There is no customer {call.path['id']}; read the list of customers.")
    return found

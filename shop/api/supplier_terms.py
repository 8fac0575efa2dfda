"""What suppliers ask: terms, carriage and prices, read and noted by a program that may see costs."""

from typing import Any, ClassVar

from inventory.models import Freight, Item, Supplier, SupplierPrice
from inventory.services import supplier_terms as services
from inventory.services.supplier_terms import Step
from shop.api import asked, etags, fields, shapes
from shop.api.purchase_orders_shown import TAG
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, nothing, reply
from shop.shared import clock, units
from shop.shared.errors import Invalid, NotFound
from shop.shared.shop_row import the_shop

FREIGHT = shapes.thing(from_value=shapes.maybe(shapes.MONEY), from_mass=shapes.maybe(shapes.MASS), freight=shapes.MONEY)
TERMS = shapes.thing(
    id=shapes.WHOLE, name=shapes.TEXT, email=shapes.TEXT, phone=shapes.TEXT, lead_days=shapes.maybe(shapes.WHOLE),
    min_order=shapes.MONEY, order_cost=shapes.maybe(shapes.MONEY), freight=shapes.many(FREIGHT),
)  # fmt: skip
_MONEY = {"amount": "9.00", "currency": "USD"}
_TERMS_EXAMPLE = {
    "id": 4, "name": "Example Turnery", "email": "orders@turnery.example", "phone": "", "lead_days": 14,
    "min_order": {"amount": "100.00", "currency": "USD"}, "order_cost": None,
    "freight": [{"from_value": None, "from_mass": None, "freight": _MONEY}],
}  # fmt: skip
PRICE = shapes.thing(
    id=shapes.WHOLE, item=shapes.TEXT, length=shapes.maybe(shapes.LENGTH), from_quantity=shapes.WHOLE, price=shapes.MONEY,
    bundle=shapes.WHOLE, noted_on=shapes.DAY,
)  # fmt: skip
_PRICE_EXAMPLE = {
    "id": 9, "item": "HA16", "length": None, "from_quantity": 1, "price": {"amount": "60.00", "currency": "USD"}, "bundle": 1,
    "noted_on": "2026-11-02",
}  # fmt: skip


class FreightBody(fields.Body):
    """One step of carriage."""

    from_value = fields.Money(required=False, help_text="From this value of the order on.")
    from_mass = fields.Text(longest=20, required=False, help_text="Or from this weight on: 200 lb, 90 kg.")
    freight = fields.Money()


class SupplierTermsBody(fields.Body):
    """A supplier's terms, whole."""

    lead_days = fields.Whole(low=0, high=730, required=False, help_text="Days until goods come, believed.")
    min_order = fields.Money(required=False)
    order_cost = fields.Money(
        required=False, help_text="What one order costs the shop; without it as for every supplier."
    )
    freight = fields.many(FreightBody, services.MOST_STEPS, required=False)


class PriceBody(fields.Body):
    """What one unit bought, or one bar, costs."""

    item = fields.Text(longest=30)
    length = fields.Text(longest=40, required=False, help_text="Of a bar as it is sold: 20 ft, 6 m.")
    from_quantity = fields.Whole(low=1, high=1_000_000, required=False)
    price = fields.Money()
    bundle = fields.Whole(low=1, high=10_000, required=False, help_text="Sold only by so many.")


class Suppliers(Endpoint):
    """The suppliers with their terms."""

    operations: ClassVar = {
        "GET": Operation(
            name="listSuppliers",
            summary="List suppliers and their terms",
            tag=TAG,
            replies={200: Reply("The suppliers.", shapes.thing(rows=shapes.many(TERMS)), {"rows": [_TERMS_EXAMPLE]})},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        del call
        return reply({"rows": [terms_shown(one) for one in Supplier.objects.order_by("name")]})


class SupplierTerms(Endpoint):
    """One supplier's terms."""

    operations: ClassVar = {
        "GET": Operation(
            name="readSupplierTerms", summary="Read a supplier's terms", tag=TAG,
            replies={200: Reply("The terms.", TERMS, _TERMS_EXAMPLE)},
        ),
        "POST": Operation(
            name="setSupplierTerms",
            summary="Set a supplier's terms",
            tag=TAG,
            words="Written anew as a whole: what is left out is none. Needs the scope `costs:read` too.",
            body=SupplierTermsBody,
            example={"min_order": "100.00", "freight": [{"freight": "9.00"}]},
            replies={200: Reply("The terms.", TERMS, _TERMS_EXAMPLE)},
            once=True,
            match=True,
        ),
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply(terms_shown(_supplier(call)))

    def post(self, call: Call) -> Answer:
        """Set them."""
        call.need("costs:read")
        body, currency, supplier = call.body, the_shop().currency, _supplier(call)
        etags.check_read(call.tags, reply(terms_shown(supplier)), "")
        steps = [
            Step(
                asked.minor(one["freight"], currency, f"freight.{at}.freight"),
                asked.minor(one["from_value"], currency, f"freight.{at}.from_value") if one.get("from_value") else 0,
                units.parse_mass(one["from_mass"], field=f"freight.{at}.from_mass").mg if one.get("from_mass") else 0,
            )
            for at, one in enumerate(body.get("freight", []))
        ]
        changed = services.set_terms(
            supplier, lead_days=body.get("lead_days"), freight=steps, at=call.at, by=call.actor,
            min_order_minor=asked.minor(body["min_order"], currency, "min_order") if body.get("min_order") else 0,
            order_cost_minor=asked.minor(body["order_cost"], currency, "order_cost") if body.get("order_cost") else None,
        )  # fmt: skip
        return reply(terms_shown(changed))


class Prices(Endpoint):
    """A supplier's prices."""

    operations: ClassVar = {
        "GET": Operation(
            name="listSupplierPrices",
            summary="List a supplier's prices",
            tag=TAG,
            replies={200: Reply("The prices.", shapes.thing(rows=shapes.many(PRICE)), {"rows": [_PRICE_EXAMPLE]})},
        ),
        "POST": Operation(
            name="noteSupplierPrice",
            summary="Note a supplier's price",
            tag=TAG,
            words="Of one unit bought, or one bar of a length. The one before it of the same thing is replaced.",
            body=PriceBody,
            example={"item": "HA16", "price": "60.00"},
            replies={201: Reply("The price.", PRICE, _PRICE_EXAMPLE)},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        rows = SupplierPrice.objects.filter(supplier=_supplier(call)).select_related("item")
        return reply({"rows": [price_shown(one) for one in rows.order_by("item__code", "length_nm", "from_qty")]})

    def post(self, call: Call) -> Answer:
        """Note one."""
        body, shop = call.body, the_shop()
        item = Item.objects.filter(code__iexact=body["item"], active=True).first()
        if item is None:
            raise Invalid.field("item", "Item: there is none of that code; read the list of items.")
        made = services.note_price(
            _supplier(call), item, asked.minor(body["price"], shop.currency, "price"),
            length_nm=units.parse_length(body["length"], field="length").nm if body.get("length") else 0,
            from_qty=body.get("from_quantity", 1), bundle=body.get("bundle", 1),
            noted_on=clock.local_date(call.at, shop.zone), at=call.at, by=call.actor,
        )  # fmt: skip
        return reply(price_shown(made), status=201)


class OnePrice(Endpoint):
    """One noted price."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeSupplierPriceAway",
            summary="Take a noted price away",
            tag=TAG,
            replies={204: Reply("It is gone.")},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it away."""
        services.take_price_away(_supplier(call), call.path["price"], at=call.at, by=call.actor)
        return nothing()


def terms_shown(one: Supplier) -> dict[str, Any]:
    """Return a supplier's terms as the API shows them."""
    currency = the_shop().currency
    return {
        "id": one.pk,
        "name": one.name,
        "email": one.email,
        "phone": one.phone,
        "lead_days": one.lead_days,
        "min_order": fields.money(one.min_order_minor, currency),
        "order_cost": fields.money(one.order_cost_minor, currency),
        "freight": [
            {
                "from_value": fields.money(row.from_minor, currency) if row.from_minor else None,
                "from_mass": fields.mass(row.from_mass_mg) if row.from_mass_mg else None,
                "freight": fields.money(row.freight_minor, currency),
            }
            for row in Freight.objects.filter(supplier=one).order_by("from_mass_mg", "from_minor")
        ],
    }


def price_shown(one: SupplierPrice) -> dict[str, Any]:
    """Return a price as the API shows it."""
    return {
        "id": one.pk,
        "item": one.item.code,
        "length": fields.length(one.length_nm) if one.length_nm else None,
        "from_quantity": one.from_qty,
        "price": fields.money(one.price_minor, the_shop().currency),
        "bundle": one.bundle,
        "noted_on": one.noted_on.isoformat(),
    }


def _supplier(call: Call) -> Supplier:
    found = Supplier.objects.filter(pk=call.path["id"]).first()
    if found is None:
        raise NotFound(f"There is no supplier {call.path['id']}; read the list of suppliers.")
    return found

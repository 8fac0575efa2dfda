"""What a program can ask about itself and the shop: its key, the shop's zone and currency."""

from typing import ClassVar

from shop.api import fields, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.shop_row import the_shop


class Me(Endpoint):
    """The key that asks and the shop it belongs to."""

    operations: ClassVar = {
        "GET": Operation(
            name="readMe",
            summary="The key that asks and the shop it belongs to",
            tag="Shop",
            replies={
                200: Reply(
                    "The key and the shop.",
                    shapes.thing(
                        key=shapes.thing(name=shapes.TEXT, prefix=shapes.TEXT, scopes=shapes.many(shapes.TEXT)),
                        expires_at=shapes.maybe(shapes.MOMENT),
                        shop=shapes.thing(name=shapes.TEXT, zone=shapes.TEXT, currency=shapes.TEXT),
                        as_of=shapes.MOMENT,
                    ),
                    {
                        "key": {"name": "Web shop", "prefix": "bkn_Ab12Cd34", "scopes": ["availability:read"]},
                        "expires_at": None,
                        "shop": {"name": "Example Forge", "zone": "America/Chicago", "currency": "USD"},
                        "as_of": "2026-03-02T14:05:00Z",
                    },
                )
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return both."""
        shop = the_shop()
        assert call.client is not None
        key = call.client.key
        return reply(
            {
                "key": {"name": key.name, "prefix": key.prefix, "scopes": key.scopes},
                "expires_at": fields.moment(key.expires_at),
                "shop": {"name": shop.name, "zone": shop.zone, "currency": shop.currency},
                "as_of": fields.moment(call.at),
            }
        )

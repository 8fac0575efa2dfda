"""What a program can ask about the shop's hours, and the days on which it is shut."""

from typing import Any, ClassVar

from shop.api import etags, fields, shapes
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, nothing, reply
from shop.flows import changing_settings
from shop.shared import buying_settings, clock, shut_days
from shop.shared.errors import NotFound
from shop.shared.models import Shop, ShutDays
from shop.shared.shop_row import the_shop
from shop.shared.shop_settings import Settings, settings_of

TAG = "Shop"
CLOCK = {"type": "string", "pattern": "^[0-2][0-9]:[0-5][0-9]$", "description": "On the clock of the shop's wall."}
WEEKDAYS = {"type": "array", "items": {"type": "integer", "minimum": 0, "maximum": 6}, "description": "0 for Monday."}
SETTINGS = shapes.thing(
    name=shapes.TEXT,
    address=shapes.TEXT,
    phone=shapes.TEXT,
    email=shapes.TEXT,
    zone=shapes.TEXT,
    currency=shapes.TEXT,
    opens_at=CLOCK,
    closes_at=CLOCK,
    open_days=WEEKDAYS,
    production_percent=shapes.WHOLE,
    carrier_days=WEEKDAYS,
    carrier_by=CLOCK,
    oven_alone=shapes.YES_NO,
    sure_one_off=shapes.WHOLE,
    sure_dealer=shapes.WHOLE,
    slips_below=shapes.WHOLE,
    buying=shapes.thing(
        holding_percent=shapes.WHOLE,
        order_cost=shapes.maybe(shapes.MONEY),
        may_be_spent=shapes.maybe(shapes.MONEY),
        not_dry_often=shapes.WHOLE,
        not_dry_sometimes=shapes.WHOLE,
        not_dry_seldom=shapes.WHOLE,
        lp_gas_most=shapes.MASS,
        flammable_most_ml=shapes.QUANTITY,
        weekly_day=shapes.WHOLE,
        steel_papers=shapes.TEXT,
    ),
)
_SETTINGS_EXAMPLE = {
    "name": "Example Forge", "address": "1 Quench Lane\nExampleton", "phone": "555 0100", "email": "forge@example.org",
    "zone": "America/Chicago", "currency": "USD", "opens_at": "08:00", "closes_at": "17:00",
    "open_days": [0, 1, 2, 3, 4], "production_percent": 65, "carrier_days": [0, 1, 2, 3, 4], "carrier_by": "15:00",
    "oven_alone": False, "sure_one_off": 90, "sure_dealer": 95, "slips_below": 80,
    "buying": {
        "holding_percent": 20, "order_cost": {"amount": "15.00", "currency": "USD"}, "may_be_spent": None,
        "not_dry_often": 98, "not_dry_sometimes": 95, "not_dry_seldom": 90,
        "lp_gas_most": {"g": "136077.711", "pounds": "300 lb"}, "flammable_most_ml": "227124.707", "weekly_day": 6,
        "steel_papers": "With the steel: a certificate of the mill for each mill heat.",
    },
}  # fmt: skip
SHUT = shapes.thing(id=shapes.WHOLE, first=shapes.DAY, last=shapes.DAY, why=shapes.TEXT)
_SHUT_EXAMPLE = {"id": 3, "first": "2026-12-24", "last": "2027-01-01", "why": "works holiday"}


class ShutBody(fields.Body):
    """Days on which the shop is not open."""

    first = fields.Day()
    last = fields.Day(required=False, help_text="Without it, one day.")
    why = fields.Text(longest=80)


class ReadSettings(Endpoint):
    """How the shop is set."""

    operations: ClassVar = {
        "GET": Operation(
            name="readSettings",
            summary="Read how the shop is set",
            tag=TAG,
            words="Its hours, its carrier, and how many times in a hundred a day given is to be kept; the owner sets them.",
            replies={200: Reply("The settings.", SETTINGS, _SETTINGS_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them; money only to who may read costs."""
        shop = the_shop()
        return reply(
            {**_settings_shown(settings_of(shop)), "buying": _buying_shown(shop, costs=call.may("costs:read"))}
        )


def _buying_shown(shop: Shop, *, costs: bool) -> dict[str, Any]:
    kept = buying_settings.of(shop)
    return {
        "holding_percent": kept.holding_percent,
        "order_cost": fields.money(kept.order_cost_minor, shop.currency) if costs else None,
        "may_be_spent": fields.money(kept.spend_minor, shop.currency) if costs else None,
        "not_dry_often": kept.dry_often,
        "not_dry_sometimes": kept.dry_sometimes,
        "not_dry_seldom": kept.dry_seldom,
        "lp_gas_most": fields.mass(kept.lp_gas_most_mg),
        "flammable_most_ml": fields.quantity(kept.flammable_most_ul, "ul"),
        "weekly_day": kept.weekly_day,
        "steel_papers": kept.steel_papers,
    }


def _settings_shown(kept: Settings) -> dict[str, Any]:
    return {
        "name": kept.name,
        "address": kept.address,
        "phone": kept.phone,
        "email": kept.email,
        "zone": kept.zone,
        "currency": kept.currency,
        "opens_at": f"{kept.opens_at:%H:%M}",
        "closes_at": f"{kept.closes_at:%H:%M}",
        "open_days": list(kept.open_days),
        "production_percent": kept.production_percent,
        "carrier_days": list(kept.carrier_days),
        "carrier_by": f"{kept.carrier_by:%H:%M}",
        "oven_alone": kept.oven_alone,
        "sure_one_off": kept.sure_one_off,
        "sure_dealer": kept.sure_dealer,
        "slips_below": kept.slips_below,
    }


class Shut(Endpoint):
    """The days on which the shop is shut."""

    operations: ClassVar = {
        "GET": Operation(
            name="listShutDays",
            summary="List the days the shop is shut",
            tag=TAG,
            words="Holidays and shutdowns that reach to today or lie ahead, the soonest first.",
            replies={200: Reply("The days.", shapes.thing(rows=shapes.many(SHUT)), {"rows": [_SHUT_EXAMPLE]})},
        ),
        "POST": Operation(
            name="addShutDays",
            summary="Shut the shop on some days",
            tag=TAG,
            words="Up to 366 days at a time; days that are shut already are refused with their name.",
            body=ShutBody,
            example={"first": "2026-12-24", "last": "2027-01-01", "why": "works holiday"},
            replies={201: Reply("The days.", SHUT, _SHUT_EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        today = clock.local_date(call.at, the_shop().zone)
        return reply({"rows": [_shut_shown(one) for one in shut_days.ahead(today)]})

    def post(self, call: Call) -> Answer:
        """Add some."""
        first = call.body["first"]
        last = call.body.get("last", first)
        made = changing_settings.shut(first, last, call.body["why"], at=call.at, by=call.by)
        return reply_created(reply(_shut_shown(made)), f"/api/v1/shut-days/{made.pk}")


class OneShut(Endpoint):
    """Some days on which the shop is shut."""

    operations: ClassVar = {
        "GET": Operation(
            name="readShutDays",
            summary="Read some days the shop is shut",
            tag=TAG,
            words="With the tag that taking them away asks for.",
            replies={200: Reply("The days.", SHUT, _SHUT_EXAMPLE)},
            snapshot=True,
        ),
        "DELETE": Operation(
            name="takeShutDaysAway",
            summary="Open the shop on these days",
            tag=TAG,
            words="The shop is open again on those of them that are its weekdays.",
            replies={204: Reply("They are taken away.")},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply(_shut_shown(_find(call)))

    def delete(self, call: Call) -> Answer:
        """Take them away."""
        found = _find(call)
        etags.check(call.tags, reply(_shut_shown(found)).headers["ETag"].strip('"'))
        changing_settings.open_again(found.pk, at=call.at, by=call.by)
        return nothing()


def _find(call: Call) -> ShutDays:
    found = ShutDays.objects.filter(pk=call.path["id"]).first()
    if found is None:
        raise NotFound(f"There are no shut days {call.path['id']}; read the list of shut days.")
    return found


def _shut_shown(one: ShutDays) -> dict[str, Any]:
    return {"id": one.pk, "first": fields.day(one.first), "last": fields.day(one.last), "why": one.why}

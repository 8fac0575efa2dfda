"""What to order and what to make: every item with its days, one item's run-down, and today's proposals by supplier."""

from typing import Any, ClassVar

from inventory.calc.buying.terms import ABOUT_COSTS, Why
from inventory.calc.reorder.rundown import run_down
from inventory.models import Item
from orders.queries.reorder import needs as queries
from orders.queries.reorder import proposals, stops
from orders.queries.reorder.needs import Need
from orders.queries.reorder.proposals import Proposal, ProposedLine
from shop.api import fields, reading, shapes
from shop.api.refusals import BadParameters
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import buying_words, need_words
from shop.shared import clock
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

TAG = "Reorder"
DAYS, MOST_DAYS = 56, 364
PAGE = 200  # items of a page of all
NEED = shapes.thing(
    item=shapes.TEXT, name=shapes.TEXT, unit=shapes.UNIT, supplier=shapes.maybe(shapes.TEXT), make=shapes.YES_NO,
    due=shapes.YES_NO, free=shapes.QUANTITY, on_order=shapes.QUANTITY, position=shapes.TEXT, point=shapes.QUANTITY,
    own_point=shapes.maybe(shapes.QUANTITY), least=shapes.QUANTITY, per_day={"type": "number"},
    lasts_until=shapes.maybe(shapes.DAY), last_safe_day=shapes.maybe(shapes.DAY), order_by=shapes.maybe(shapes.DAY),
    service={"type": "number"}, counted=shapes.words(*Item.Counted.values), method=shapes.TEXT,
    lead_days={"type": "number"}, lead_records=shapes.WHOLE, why=shapes.TEXT,
)  # fmt: skip
_NEED_EXAMPLE = {
    "item": "HA16", "name": "handle 16 in", "unit": "piece", "supplier": "Example Turnery", "make": False, "due": True,
    "free": "26", "on_order": "0", "position": "26", "point": "78", "own_point": "48", "least": "54", "per_day": 2.5,
    "lasts_until": "2026-12-08", "last_safe_day": "2026-12-02", "order_by": "2026-11-28", "service": 0.95,
    "counted": "sometimes", "method": "SBA 0.1", "lead_days": 14.9, "lead_records": 15,
    "why": "26 free. The point is 78: 37 for the 15 days until it is here (19 nine times in ten) and 41 so that it runs dry "
    "in 5 of 100 reorders.",
}  # fmt: skip
_DAY = shapes.thing(
    day=shapes.DAY, low=shapes.TEXT, median=shapes.TEXT, high=shapes.TEXT, short={"type": "number"},
)  # fmt: skip
ONE = shapes.thing(
    need=NEED, weekly=shapes.many(shapes.TEXT), forecast=shapes.many({"type": "number"}), error=shapes.maybe({"type": "number"}),
    naive_error=shapes.maybe({"type": "number"}),
    lead=shapes.many(shapes.thing(days=shapes.WHOLE, chance={"type": "number"})), run_down=shapes.many(_DAY),
)  # fmt: skip
_QUANTITIES = {
    "least", "usual", "units", "than", "most", "bought", "cover", "by", "short", "step", "more", "room", "left", "rest", "to_point",
    "until_next_look",
}  # fmt: skip
_SUMS = {"saves", "less", "minimum", "money", "value", "reach", "from"}
_FACTS = "By name: quantities as text in the unit of the line, money with its currency, days and shares as numbers."
_WHY = shapes.thing(kind=shapes.TEXT, facts={"type": "object", "description": _FACTS})
PROPOSED = shapes.thing(
    item=shapes.TEXT, quantity=shapes.QUANTITY, unit=shapes.UNIT, typed=shapes.TEXT, value=shapes.maybe(shapes.MONEY),
    bars=shapes.maybe(shapes.thing(length=shapes.LENGTH, count=shapes.WHOLE, blanks=shapes.WHOLE, lost_of_hundred={"type": "number"})),
    cover_days=shapes.maybe({"type": "number"}), due=shapes.YES_NO, why=shapes.many(_WHY), words=shapes.TEXT,
)  # fmt: skip
PROPOSAL = shapes.thing(
    supplier=shapes.maybe(shapes.TEXT), value=shapes.maybe(shapes.MONEY), freight=shapes.maybe(shapes.MONEY),
    lines=shapes.many(PROPOSED), notes=shapes.many(shapes.TEXT),
)  # fmt: skip
_STOP = shapes.thing(item=shapes.TEXT, day=shapes.DAY, tools=shapes.many(shapes.TEXT))


class Needs(Endpoint):
    """Every item that is reordered."""

    operations: ClassVar = {
        "GET": Operation(
            name="listReorder",
            summary="List what to order and make",
            tag=TAG,
            words="What ends first, first. `position` counts what is free, coming, in the works and inside what is made, less"
            " what orders wait for; at `point` or under it the item is due. Numbers are those of the pages and the night.",
            query=(
                reading.Choice(
                    "which", "What is due, or every item by its code.", default="due", choices=("due", "all")
                ),
                reading.Parameter(
                    "after", "Of every item, those behind this code; `next` of the page before.", longest=30
                ),
            ),
            replies={
                200: Reply(
                    "The items.",
                    shapes.thing(rows=shapes.many(NEED), next=shapes.maybe(shapes.TEXT)),
                    {"rows": [_NEED_EXAMPLE], "next": None},
                )
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        after = call.query["after"]
        if call.query["which"] == "all":
            rows, following = _page(queries.stands(at=call.at), after or "")
            return reply({"rows": rows, "next": following})
        if after is not None:
            raise BadParameters("“after” goes with “which” all; leave it out.")
        return reply({"rows": [shown(one) for one in queries.needs(at=call.at)], "next": None})


def _page(shop: queries.Stands, after: str) -> tuple[list[dict[str, Any]], str | None]:
    """Return the items behind a code, as many as are decided on in a moment, and the last code where more follow."""
    behind = sorted((one.item.code, pk) for pk, one in shop.bases.items() if one.item.code > after)
    rows = [shown(queries.need_of(shop, pk)) for _, pk in behind[:PAGE]]
    return rows, behind[PAGE - 1][0] if len(behind) > PAGE else None


class OneNeed(Endpoint):
    """One item with what it rests on."""

    operations: ClassVar = {
        "GET": Operation(
            name="readReorder",
            summary="Read how long an item lasts",
            tag=TAG,
            words="With its weekly demand, the forecast of 52 weeks, the chances of its lead time, and stock day by day if"
            " nothing is ordered: between low and high eight times in ten, `short` is the chance that something is missing by then.",
            query=(reading.Whole("days", "How many days of the run-down.", default=DAYS, low=1, high=MOST_DAYS),),
            replies={
                200: Reply(
                    "The item.", ONE,
                    {"need": _NEED_EXAMPLE, "weekly": ["16", "0", "24"], "forecast": [17.6], "error": 18.5, "naive_error": 21.6,
                     "lead": [{"days": 12, "chance": 0.4}, {"days": 19, "chance": 0.6}],
                     "run_down": [{"day": "2026-11-28", "low": "26", "median": "26", "high": "26", "short": 0.0}]},
                )
            },
        )
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return it."""
        item = Item.objects.filter(code__iexact=call.path["code"]).first()
        found = queries.need(item, at=call.at) if item else None
        if found is None:
            raise NotFound(f"{call.path['code'][:30]} is not reordered; read the list of what is.")
        today = clock.local_date(call.at, the_shop().zone)
        drawn = run_down(found.asked, today=today, days=call.query["days"])
        unit = found.item.unit
        return reply(
            {
                "need": shown(found),
                "weekly": [fields.quantity(one, unit) for one in found.basis.history],
                "forecast": [_number(one, unit) for one in found.basis.per_week],
                "error": _number(found.basis.error, unit),
                "naive_error": _number(found.basis.naive_error, unit),
                "lead": [
                    {"days": day, "chance": round(chance, 6)}
                    for day, chance in zip(found.basis.lead.days, found.basis.lead.chances, strict=True)
                ],
                "run_down": [
                    {
                        "day": one.day.isoformat(), "low": _signed(one.low, unit), "median": _signed(one.median, unit),
                        "high": _signed(one.high, unit), "short": one.short,
                    }
                    for one in drawn.days
                ],
            }
        )  # fmt: skip


class Proposals(Endpoint):
    """Today's purchase orders."""

    operations: ClassVar = {
        "GET": Operation(
            name="listPurchaseProposals",
            summary="List what to order today by supplier",
            tag=TAG,
            words="Nothing is ordered by this. `typed` is what the quantity of a purchase order's line takes. Steel comes in"
            " whole bars of the length whose blanks cost least. Prices need the scope for costs, else they are null"
            " and reasons that tell of money are left out.",
            replies={
                200: Reply(
                    "The proposals.",
                    shapes.thing(rows=shapes.many(PROPOSAL), stops_first=shapes.many(_STOP)),
                    {"rows": [], "stops_first": [{"item": "HA16", "day": "2026-12-08", "tools": ["CP2"]}]},
                )
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        costs = call.may("costs:read")
        rows = [proposal_shown(one, the_shop().currency, costs=costs) for one in proposals.proposals(at=call.at)]
        first = [
            {"item": one.item.code, "day": one.day.isoformat(), "tools": [tool.code for tool in one.tools]}
            for one in stops.first(at=call.at)
        ]
        return reply({"rows": rows, "stops_first": first})


def shown(one: Need) -> dict[str, Any]:
    """Return a need as the API shows it."""
    item, decision = one.item, one.decision
    return {
        "item": item.code,
        "name": item.name,
        "unit": fields.unit_name(item.unit),
        "supplier": item.supplier.name if item.supplier else None,
        "make": one.make,
        "due": one.due,
        "free": fields.quantity(one.position.free, item.unit),
        "on_order": fields.quantity(one.position.on_order, item.unit),
        "position": _signed(decision.position, item.unit),
        "point": fields.quantity(decision.point, item.unit),
        "own_point": None if item.reorder_point is None else fields.quantity(item.reorder_point, item.unit),
        "least": fields.quantity(decision.least if one.due else 0, item.unit),
        "per_day": _number(decision.per_day, item.unit),
        "lasts_until": fields.day(decision.lasts_until),
        "last_safe_day": fields.day(decision.last_safe_day),
        "order_by": fields.day(decision.order_by),
        "service": one.asked.service,
        "counted": one.basis.counted,
        "method": one.basis.method,
        "lead_days": round(one.basis.lead.mean, 2),
        "lead_records": one.basis.lead.records,
        "why": f"{need_words.left(one)} {need_words.why(one)}",
    }


def proposal_shown(one: Proposal, currency: str, *, costs: bool) -> dict[str, Any]:
    """Return a proposal as the API shows it; what it costs only to who may read costs."""
    return {
        "supplier": one.supplier.name if one.supplier else None,
        "value": fields.money(one.value, currency) if costs and one.value else None,
        "freight": fields.money(one.freight, currency) if costs and one.value else None,
        "lines": [_line(line, currency, costs=costs) for line in one.lines],
        "notes": buying_words.notes(one, currency) if costs else [],
    }


def _line(line: ProposedLine, currency: str, *, costs: bool) -> dict[str, Any]:
    item, bars = line.need.item, line.bars
    told = [why for why in line.why if costs or why.kind not in ABOUT_COSTS]
    return {
        "item": item.code,
        "quantity": fields.quantity(line.units, item.unit),
        "unit": fields.unit_name(item.unit),
        "typed": line.typed,
        "value": fields.money(line.value, currency) if costs and line.value else None,
        "bars": None if bars is None else {
            "length": fields.length(bars.length_nm, bars.typed), "count": line.units // bars.length_nm,
            "blanks": line.units // bars.length_nm * bars.blanks,
            "lost_of_hundred": round(100 * bars.lost_nm / bars.length_nm, 2),
        },
        "cover_days": None if line.cover_days is None else round(line.cover_days, 1),
        "due": line.need.due,
        "why": [_why(one, item.unit, currency) for one in told],
        "words": buying_words.reasons(line, currency, costs=costs),
    }  # fmt: skip


def _why(one: Why, unit: str, currency: str) -> dict[str, Any]:
    facts = {name: _fact(name, value, unit, currency) for name, value in one.facts.items()}
    return {"kind": one.kind, "facts": facts}


def _fact(name: str, value: float | str, unit: str, currency: str) -> Any:
    if isinstance(value, str):
        return value
    if name in _SUMS:
        return fields.money(round(value), currency)
    return fields.quantity(round(value), unit) if name in _QUANTITIES else value


def _number(value: float | None, unit: str) -> Any:
    """Return a figure that is expected, not counted, in the unit of the API."""
    return None if value is None else round(value / 10 ** fields.UNITS[unit][1], 6)


def _signed(raw: int, unit: str) -> str:
    """Write a quantity that may be owed."""
    return f"-{fields.quantity(-raw, unit)}" if raw < 0 else fields.quantity(raw, unit)

"""Cut plans: asked for, and read while the worker is at it and later."""

from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Blade, CutPlan, Item
from inventory.queries import lists, prices
from inventory.services import steel_items
from inventory.services.cut_asking import MOST_LINES, MOST_SECONDS, MOST_WANTED, Buy, Question, Wanted
from shop.api import fields, paging, reading, shapes
from shop.api.cut_plans_shown import PLAN, PLAN_EXAMPLE, STATES, plan_shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import cut_plans
from shop.shared.errors import Invalid, NotFound
from shop.shared.shop_row import the_shop
from shop.shared.units import Length, as_taped, money_exponent, parse_length, parse_money

TAG = "Cut plans"


class WantedBody(fields.Body):
    """So many blanks: of the book, or of a length that is written down then."""

    blank = fields.Text(longest=30, required=False, help_text="Code of a blank of this steel.")
    length = fields.Text(longest=40, required=False, help_text="Instead of a blank, a length: 4-7/16 in.")
    count = fields.Whole(low=1, high=MOST_WANTED)
    due = fields.Day(required=False, help_text="What is due first is cut first, where not all can be.")
    words = fields.Text(longest=100, required=False, help_text="What for.")


class BuyBody(fields.Body):
    """A length that may be bought."""

    length = fields.Text(longest=40, help_text="20 ft, 6 m.")
    price = fields.Money(help_text="Of one bar.")


class AskBody(fields.Body):
    """The question of a cut plan."""

    steel = fields.Text(longest=30, help_text="Code of the bar item.")
    pieces = fields.many(WantedBody, MOST_LINES)
    saw = fields.Whole(low=1, high=10**9, required=False, help_text="Id of a saw; without it the shop's own kerf.")
    buyable = fields.many(BuyBody, 10, required=False, least=0)
    seconds = fields.Whole(low=1, high=MOST_SECONDS, required=False, help_text="How long the worker may look: 10.")


def read(number: int) -> CutPlan:
    """Return a cut plan with its lines and bars."""
    found = lists.cut_plans().filter(number=number).first()
    if found is None:
        raise NotFound(f"There is no cut plan {number}; read the list of cut plans.")
    return found


def shown(number: int) -> Answer:
    """Return the answer that shows a plan as it stands."""
    return reply(plan_shown(read(number), the_shop().currency))


class CutPlans(Endpoint):
    """The cut plans."""

    operations: ClassVar = {
        "GET": Operation(
            name="listCutPlans",
            summary="List cut plans",
            tag=TAG,
            words="Cut plans, the first asked for first.",
            query=(
                reading.Choice("state", "Only those in this state.", choices=tuple(STATES)),
                reading.Parameter("steel", "Only of the bar item of this code.", longest=30),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of plans.", shapes.page(PLAN), {"rows": [PLAN_EXAMPLE], "next": None}, ("Link",))
            },
        ),
        "POST": Operation(
            name="askForCutPlan",
            summary="Ask for a cut plan",
            tag=TAG,
            words=(
                "Writes the question down; without buyable, the lengths may be bought that a supplier's prices are noted for,"
                " with an empty one none. The worker answers it within the seconds given. Read the plan until its state"
                " is answered; on the way the best plan so far stands in so_far. Nothing is set aside before it is taken."
            ),
            body=AskBody,
            example={
                "steel": "B-1045-RD-2IN",
                "pieces": [{"length": "3-5/8 in", "count": 2, "due": "2026-03-16", "words": "order 1043"}],
            },
            replies={201: Reply("The plan, asked for.", PLAN, PLAN_EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.cut_plans(state=call.query["state"], steel=call.query["steel"])
        currency = the_shop().currency
        page = paging.page(found, call.request, dict(call.query), by="number")
        return reply(
            {"rows": [plan_shown(plan, currency) for plan in page.rows], "next": page.next}, headers=page.headers
        )

    def post(self, call: Call) -> Answer:
        """Ask."""
        body = call.body
        steel = Item.objects.filter(code=body["steel"]).select_related("grade", "section").first()
        if steel is None:
            raise Invalid.field("steel", "There is no such item; name a bar of the list of items.")
        wanted = [_wanted(at, one, steel, call) for at, one in enumerate(body["pieces"])]
        question = Question(
            steel,
            wanted,
            the_shop().kerf_nm,
            blade=_saw(body.get("saw")),
            buyable=_buyable(body, steel),
            seconds=body.get("seconds", 10),
        )
        plan = cut_plans.ask(question, at=call.at, by=call.actor)
        return reply_created(shown(plan.number), f"/api/v1/cut-plans/{plan.number}")


def _wanted(at: int, one: Mapping[str, Any], steel: Item, call: Call) -> Wanted:
    if ("blank" in one) == ("length" in one):
        raise Invalid.field(f"pieces.{at}.blank", "Name either a blank or a length.")
    if "length" in one:
        nm = _length(one["length"], f"pieces.{at}.length").nm
        if steel.grade is None or steel.section is None:
            raise Invalid.field("steel", "This item is no bar; name a bar of the list of items.")
        blank = steel_items.blank_item(steel.grade, steel.section, nm, at=call.at, by=call.actor)
    else:
        found = Item.objects.filter(code=one["blank"]).first()
        if found is None:
            raise Invalid.field(f"pieces.{at}.blank", "There is no such blank; name one of the list of items.")
        blank = found
    return Wanted(blank, one["count"], one.get("due"), one.get("words", ""))


def _length(text: str, where: str) -> Length:
    """Read a length inside a list; the sentence names the length, the pointer where it stands."""
    try:
        return parse_length(text, field="length")
    except Invalid as refusal:
        raise Invalid.field(where, refusal.sentence) from refusal


def _saw(number: int | None) -> Blade | None:
    if number is None:
        return None
    found = Blade.objects.filter(pk=number).first()
    if found is None:
        raise Invalid.field("saw", "There is no such saw; read the list of saws.")
    return found


def _buyable(body: Mapping[str, Any], steel: Item) -> list[Buy]:
    """Return the lengths that may be bought: those sent, else those its supplier's prices are noted for."""
    if "buyable" in body:
        return [_buy(at, one) for at, one in enumerate(body["buyable"])]
    return [Buy(nm, minor, as_taped(nm)) for nm, minor in prices.by_length(steel.pk, steel.supplier_id)]


def _buy(at: int, one: Mapping[str, Any]) -> Buy:
    length = _length(one["length"], f"buyable.{at}.length")
    exponent = money_exponent(the_shop().currency)
    price = parse_money(one["price"], exponent, field=f"buyable.{at}.price")
    return Buy(length.nm, price.minor, one["length"])


class OneCutPlan(Endpoint):
    """One cut plan."""

    operations: ClassVar = {
        "GET": Operation(
            name="readCutPlan",
            summary="Read a cut plan",
            tag=TAG,
            words=(
                "The question, the answers with every level's value and bound as the verifier works them out, and, once"
                " it is taken, what became of each bar."
            ),
            replies={200: Reply("The plan.", PLAN, PLAN_EXAMPLE)},
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return shown(call.path["number"])

"""Ship days: asked for, read, given with an order that is taken, and those that are not sure enough any more."""

import contextlib
from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Item
from orders.models import PROGRAM_SOURCE, Customer, Question
from orders.services import not_taken
from orders.services.ordering import Terms, Wanted
from shop.api import asked, fields, orders, orders_shown, ship_days_shown
from shop.api.ship_days_asked import Asking, Giving, noted
from shop.api.ship_days_shown import EXAMPLE, IDEAS, IDEAS_EXAMPLE, QUESTION, TAG
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows.ship_days import asking, giving, turns
from shop.flows.ship_days.asking import MOST_LINES, Asked
from shop.flows.ship_days.giving import Day
from shop.shared.errors import Invalid, Refusal
from shop.shared.shop_row import the_shop

MOST_QUESTIONS = 10**12
SURE = "So many times in a hundred it is to be kept, 50 to 99; without it, what the shop wants for such a customer."
WAITS = (
    "Where the answer takes long, or that of another program is being worked out, its state is `waiting`; read the address"
    " in `Location` until it is `answered`. Nothing is given or set aside by asking. Twenty of one key wait at the most."
)
STALE = (
    "Where the shop has changed since the question was answered, nothing is given: 409 `answer_is_stale`, with `question`"
    " that asks the same anew and the `day` it says,"
    " null while that one is `waiting`."
)


class AskDayLine(fields.Body):
    """So many of an item."""

    item = fields.Text(longest=asked.ITEM_CODE)
    quantity = fields.Quantity()


class AskDayBody(fields.Body):
    """What is asked for."""

    lines = fields.many(AskDayLine, MOST_LINES)
    by = fields.Day(required=False, help_text="How sure, and how many, by this day.")
    kind = fields.Word(choices=list(Customer.Kind.values), required=False, help_text="Of customer; without it one-off.")
    sure = fields.Whole(low=50, high=99, required=False, help_text=SURE)


class DayLineBody(fields.Body):
    """What is agreed about an item that was asked for; its pieces are the question's."""

    item = fields.Text(longest=asked.ITEM_CODE)
    options = fields.Text(longest=120, required=False, help_text="How the item is wanted: 16 in handle, name stamped.")
    whole = fields.YesNo(required=False, help_text="Goes in one piece or not at all.")
    price = fields.Money(required=False, help_text="Agreed for one; without it the customer's price.")


class TakeWithDayBody(orders.TermsBody):
    """The order, and the day that is given with it."""

    customer = asked.BuyerBody()
    lines = fields.many(DayLineBody, MOST_LINES, required=False)
    below_minimum = fields.YesNo(required=False, help_text=asked.BELOW_MINIMUM)
    day = fields.Day(required=False, help_text="Without it the day of the answer.")
    split = fields.YesNo(required=False, help_text="In the two parts of the answer, each with its day.")
    knowingly = fields.YesNo(required=False, help_text="Give the day though it slips from the start.")
    said_until = fields.Day(required=False, help_text="Said on the phone: let go after this day unless confirmed.")
    reason = fields.Text(longest=300, required=False, allow_blank=True)


class Questions(Asking):
    """Asking about a further order."""

    operations: ClassVar = {
        "POST": Operation(
            name="askShipDay",
            summary="Ask for a ship day",
            tag=TAG,
            words=(
                "Asks when so many of some items could be sent as the shop stands, without the order being taken: the day"
                " that is as sure as wanted, the chance of each day, who would lose by it and what holds it up. " + WAITS
                + " Repeated with its key it shows the same question as far as it is answered by then."
            ),
            body=AskDayBody,
            example={"lines": [{"item": "HAM-2LB", "quantity": "12"}]},
            replies={201: Reply("The question with its answer.", QUESTION, EXAMPLE, ("Location",))},
            once=True,
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Note it."""
        body = call.body
        codes = {f"lines.{number}.item": line["item"] for number, line in enumerate(body["lines"])}
        known = asked.items(codes)
        wanted = tuple((known[line["item"]], _pieces(number, line, known)) for number, line in enumerate(body["lines"]))
        kind = body.get("kind", Customer.Kind.ONE_OFF)
        try:
            question = asking.note(Asked(wanted, kind, body.get("by"), body.get("sure")), at=call.at, by=call.actor)
        except Invalid as refusal:
            if "day" in refusal.fields:
                raise Invalid.field("by", refusal.sentence) from refusal
            raise
        return noted(question)


def _pieces(number: int, line: Mapping[str, Any], known: Mapping[str, Item]) -> int:
    item = known[line["item"]]
    if item.unit != "piece":
        raise Invalid.field(
            f"lines.{number}.item", f"{item.code} is not counted in pieces; a day can be asked for what is."
        )
    return fields.to_raw(line["quantity"], item.unit, f"lines.{number}.quantity")


def read(number: int) -> Question:
    """Return a question as the address names it."""
    return asking.find(number)


class OneQuestion(Endpoint):
    """One question."""

    operations: ClassVar = {
        "GET": Operation(
            name="readShipDayQuestion",
            summary="Read a question about a ship day",
            tag=TAG,
            words=(
                "A question with its answer, kept for 30 days. `curve` holds the days on which the chance rises. Names of"
                " customers are null without the scope `addresses:read`; those of people in `holds` are `a pair of hands`"
                " without `shop:read`."
            ),
            replies={200: Reply("The question.", QUESTION, EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(ship_days_shown.shown(read(call.path["id"]), call))


class Ideas(Endpoint):
    """What would bring it forward."""

    operations: ClassVar = {
        "GET": Operation(
            name="readShipDayIdeas",
            summary="Read what would bring a ship day forward",
            tag=TAG,
            words=(
                "Up to three changes that would give an earlier day, the best first, each with the orders that lose by it."
                " Worked out when it is read first, for a question about no order yet; others have none. They are worked"
                " out for one program at a time; where another is being answered, it is refused with `Retry-After`."
            ),
            replies={200: Reply("The changes.", IDEAS, IDEAS_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        question = read(call.path["id"])
        with turns.taken(turns.PROGRAMS) if question.ideas is None else contextlib.nullcontext():
            found = asking.bring_forward(question, at=call.at)
        return reply(ship_days_shown.ideas_shown(question, found))


class NotTakenBody(fields.Body):
    """Whether it was taken."""

    not_taken = fields.YesNo(required=False, help_text="Without it yes; no strikes out what was said by mistake.")


class NotTaken(Endpoint):
    """What was asked for and not taken."""

    operations: ClassVar = {
        "POST": Operation(
            name="noteShipDayNotTaken",
            summary="Say that it was not taken",
            tag=TAG,
            words=(
                "The customer went without: what was asked for counts as demand when reorders are reckoned, once for each"
                " question. Taking the order after all strikes it out."
            ),
            body=NotTakenBody,
            example={"not_taken": True},
            replies={200: Reply("The question.", QUESTION, {**EXAMPLE, "not_taken_at": "2026-03-02T14:20:00Z"})},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        say = not_taken.note if call.body.get("not_taken", True) else not_taken.strike_out
        return reply(ship_days_shown.shown(say(read(call.path["id"]), at=call.at, by=call.actor), call))


class TakeWithDay(Giving):
    """Taking an order with its day."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeOrderWithDay",
            summary="Take an order with the day that was asked for",
            tag=TAG,
            words=(
                "Gives the day and takes the order in one step: what exists is set aside, the rest gets its place in the"
                " queue. The pieces are those of the question; `lines` only add what is agreed about them. " + STALE
            ),
            body=TakeWithDayBody,
            example={
                "customer": {"name": "Example Customer", "address": "1 Example Lane"},
                "lines": [{"item": "HAM-2LB", "options": "16 in handle", "price": "125.00"}],
                "reference": "web 1042",
            },
            replies={201: Reply("The order.", orders_shown.ORDER, orders_shown.EXAMPLE, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Give it."""
        question, body, currency = self.stale(call), call.body, the_shop().currency
        wanted = _wanted(question, body.get("lines", []), currency)
        agreed = Terms(**orders.terms(body, currency), below_minimum=body.get("below_minimum", False))
        buyer, day = asked.buyer(body["customer"]), day_of(body)
        order = giving.give(question, buyer, wanted, agreed, day, at=call.at, by=call.actor, source=PROGRAM_SOURCE)
        made = orders_shown.one(order.number, call)
        return reply(made, status=201, location=f"/api/v1/orders/{order.number}")

    def stale(self, call: Call) -> Question:
        """Return the question of the address."""
        return read(call.path["id"])

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Ask the same once more, and write down what could not be given."""
        super().refused(call, refusal)
        asked.note_shortage(call, refusal)


def day_of(body: Mapping[str, Any]) -> Day:
    """Return the day that a body gives."""
    if body.get("split") and "day" in body:
        raise Invalid.field("day", "In two parts each has its own day; leave this one out, or give it for all at once.")
    return Day(
        day=body.get("day"),
        split=body.get("split", False),
        knowingly=body.get("knowingly", False),
        said_until=body.get("said_until"),
        reason=body.get("reason", ""),
    )


def _wanted(question: Question, lines: list[Mapping[str, Any]], currency: str) -> list[Wanted]:
    pieces = dict(asking.wanted_of(question))
    told: dict[str, tuple[int, Mapping[str, Any]]] = {}
    for number, line in enumerate(lines):
        code = line["item"]
        if code not in pieces or question.order_id is not None:
            said = ", ".join(f"{many} of {item}" for item, many in pieces.items())
            raise Invalid.field(f"lines.{number}.item", f"The day was asked for {said}; name one of these.")
        if code in told:
            raise Invalid.field(f"lines.{number}.item", f"{code} is named twice; name it once.")
        told[code] = number, line
    known = Item.objects.in_bulk(list(pieces), field_name="code")
    return [
        _one_wanted(known[code], many, *told.get(code, (0, {})), currency)
        for code, many in pieces.items()
        if code in known
    ]


def _one_wanted(item: Item, pieces: int, number: int, line: Mapping[str, Any], currency: str) -> Wanted:
    return Wanted(
        qty=pieces,
        item=item,
        options=line.get("options", ""),
        whole=line.get("whole", False),
        price_minor=asked.minor(line["price"], currency, f"lines.{number}.price") if "price" in line else None,
    )

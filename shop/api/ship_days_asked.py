"""What every address that asks for ship days or gives them shares: reckoned after the transaction, asked anew where stale."""

import json
from dataclasses import replace

from orders.models import Question
from orders.services.promising import StaleAnswer
from shop.api import ship_days_shown
from shop.api.view import Answer, Call, Endpoint, reply
from shop.flows.ship_days import asking, turns
from shop.shared.errors import NotFound, Refusal

ADDRESS = "/api/v1/ship-days/questions"


def noted(question: Question) -> Answer:
    """Return what a key keeps of a question: which one it is, and no answer."""
    return reply({"id": question.pk}, status=201, location=f"{ADDRESS}/{question.pk}")


class Asking(Endpoint):
    """An address whose POST asks.

    A request key decides which question it is, nothing more: the question is written down in the key's transaction and
    reckoned after it, outside any. A request that is repeated finds the same question, answers it where the first try
    died before it could, and never asks another.
    """

    def finish(self, call: Call, told: Answer) -> Answer:
        """Reckon the question that was noted, now or by the request that this one repeats."""
        if told.status != 201:
            return told
        question = asking.reckon(asking.find(json.loads(told.body)["id"]), at=call.at, turns=turns.PROGRAMS)
        made = reply(ship_days_shown.shown(question, call), status=201)
        return replace(made, headers={**told.headers, **made.headers})


class Giving(Endpoint):
    """An address whose POST gives the day of a question, or refuses it as stale and says which question asks the same anew.

    The new question is noted with the refusal that its key keeps, and reckoned after the transaction: the same request
    repeated is told of the same question.
    """

    def stale(self, call: Call) -> Question:
        """Return the question whose answer is given."""
        raise NotImplementedError

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Ask the same once more; where that cannot be, no question is named."""
        if not isinstance(refusal, StaleAnswer):
            return
        refusal.facts.pop("question", None)
        try:
            anew = asking.note_again(self.stale(call), at=call.at, by=call.actor)
        except Refusal:
            return
        refusal.facts["question"] = anew.pk

    def finish(self, call: Call, told: Answer) -> Answer:
        """Put the new day beside the number of the new question."""
        body = json.loads(told.body) if told.status == StaleAnswer.status else {}
        if not body.get("type", "").endswith("/" + StaleAnswer.code) or "question" not in body:
            return told
        try:
            question = asking.reckon(asking.find(body["question"]), at=call.at, turns=turns.PROGRAMS)
        except NotFound:
            return told
        body |= {"state": question.state, "day": question.answer.get("day")}
        return replace(told, body=json.dumps(body, ensure_ascii=False))

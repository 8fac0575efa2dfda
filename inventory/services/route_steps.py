"""One step of a route changed: the next version of the route is the last one with that step written anew."""

import datetime as dt

from inventory.models import Pattern, Route, Step
from inventory.queries import along
from inventory.services import routes
from inventory.services.routes import PLAIN, CauseFacts, StepFacts
from shop.access.actor import Actor
from shop.shared import transactions
from shop.shared.errors import Invalid

MOST_CAUSES = 20


def facts_of(step: Step) -> StepFacts:
    """Return a step as it would be written down."""
    causes = (CauseFacts(c.name, c.second, c.rework_to, c.handle_only) for c in step.causes.order_by("pk"))
    return StepFacts(
        step.number,
        step.name,
        {name: getattr(step, name) for name in sorted(PLAIN)},
        machines=sorted(step.machines.values_list("code", flat=True)),
        tooling=step.tooling.code if step.tooling else "",
        causes=list(causes),
        uses={use.item.code: use.per_hundred for use in step.uses.select_related("item").order_by("pk")},
        hands=sorted(step.hands.values_list("pk", flat=True)),
    )


def change_step(of: Pattern, changed: StepFacts, *, at: dt.datetime, by: Actor) -> Route:
    """Write the next version of a route with one step changed; runs that were begun keep theirs.

    A step keeps its number and its name, so what was counted at it goes on teaching.
    """
    transactions.assert_open()
    last = Route.objects.filter(pattern=of).order_by("-version").first()
    was = [facts_of(step) for step in along.walk(last).steps] if last else []
    old = next((facts for facts in was if (facts.number, facts.name) == (changed.number, changed.name)), None)
    if old is None:
        raise Invalid.field("step", f"Step: the route of {of.code} has changed meanwhile; look at it again.")
    if changed == old:
        raise Invalid.field("step", f"Step: {changed.name} stands like that already; change something of it.")
    if len(changed.causes) > MOST_CAUSES:
        raise Invalid.field("causes", f"Causes: write at most {MOST_CAUSES}; nobody chooses among more.")
    names = [cause.name for cause in changed.causes]
    if len(names) != len(set(names)):
        raise Invalid.field("causes", "Causes: one is written twice; write each once.")
    return routes.set_route(of, [changed if facts is old else facts for facts in was], at=at, by=by)

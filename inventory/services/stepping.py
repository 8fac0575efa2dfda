"""Moving heads on along their route: from step to step on the floor, and after the last step to the shelf."""

from inventory.models import Entry, Holding, Item, Place, Step
from inventory.services import catalogue, ledger
from inventory.services.ledger import Kind, Line, Locks, Stamp
from shop.shared import transactions
from shop.shared.errors import Invalid


def steps_of(item: Item) -> list[Step]:
    """Return the steps of the newest route of an item's pattern, in order."""
    steps = Step.objects.filter(route__pattern=item.pattern_id).order_by("-route__version", "number")
    return [step for step in steps if step.route_id == steps[0].route_id]


def next_after(item: Item, step: int) -> Step | None:
    """Return the step that follows; None after the last one."""
    return next((later for later in steps_of(item) if later.number > step), None)


def move_on(holding: Holding, qty: int, *, locks: Locks, stamp: Stamp) -> Entry:
    """Move so many heads one step on; after the last step they go to the shelf and may be sold or hafted.

    One step at a time: nothing that is hardened and not yet tempered and checked can get past that step.
    """
    transactions.assert_open()
    there = Holding.objects.select_related("lot__item", "place").get(pk=holding.pk)
    if there.place.kind != Place.Kind.FLOOR:
        raise Invalid.field("holding", f"Lot {there.lot.code} does not stand on the floor; choose heads that do.")
    if not 1 <= qty <= there.on_hand:
        raise Invalid.field("qty", f"How many: {there.on_hand} of lot {there.lot.code} stand there; write 1 to that.")
    following = next_after(there.lot.item, there.step)
    target, step = (there.place, following.number) if following else (catalogue.place("SHELF"), 0)
    line = Line(lot=there.lot, qty=qty, source=there.place, source_step=there.step, target=target, target_step=step)
    return ledger.commit(Kind.MOVE, [line], locks=locks, stamp=stamp)

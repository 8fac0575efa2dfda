"""Several hands at what is made for the shelf: it is put in once, and no piece of a run is counted for it twice."""

from collections.abc import Callable

import pytest

from inventory.models import Item, Run
from inventory.services.starting import Start
from orders.models import ForShelf
from orders.services import for_shelf
from shop.flows import floor
from shop.shared import transactions
from tests import forge, makers
from tests.flows.test_races_at_the_door import CLIENTS, at_once
from tests.makers import AT, actor
from tests.people import make_shop

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def made(transactional_db: None) -> forge.Forge:
    make_shop()
    return forge.make_forge(blanks=10 * CLIENTS)


def asker(item: Item, pieces: int) -> Callable[[], object]:
    return lambda: for_shelf.ask(Item.objects.get(pk=item.pk), pieces, at=AT, by=actor())


def starter(made: forge.Forge, pieces: int) -> Callable[[], object]:
    return lambda: floor.start(Start(made.head, made.blank, made.melt, pieces), stamp=makers.stamp())


def dropper(item: Item) -> Callable[[], object]:
    return lambda: for_shelf.drop(Item.objects.get(pk=item.pk), at=AT, by=actor())


def test_what_many_desks_put_in_at_once_is_in_once(made: forge.Forge) -> None:
    came = at_once([asker(made.tool.item, 10 + n) for n in range(CLIENTS)])
    assert came == {"done": 1, "invalid": CLIENTS - 1}
    assert ForShelf.objects.count() == 1


def test_runs_that_are_started_at_once_take_their_pieces_off_it_one_after_the_other(made: forge.Forge) -> None:
    with transactions.entry_point():
        for_shelf.ask(made.tool.item, 3 * CLIENTS + 7, at=AT, by=actor())
    came = at_once([starter(made, 3) for _ in range(CLIENTS)])
    assert came == {"done": CLIENTS}
    assert ForShelf.objects.get().pieces == 7
    at_once([starter(made, 7), dropper(made.tool.item)])
    wish = ForShelf.objects.get()
    assert (wish.run is None) == (wish.dropped_at is not None)
    assert Run.objects.count() == CLIENTS + 1

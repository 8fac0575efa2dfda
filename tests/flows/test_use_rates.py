"""What counts teach of belts, oil and gas: use between two counts over the pieces made meanwhile, put into the routes."""

import datetime as dt
from fractions import Fraction

import pytest
from django.db import transaction

from inventory.models import Item, Route
from inventory.queries import count_sheets as queries
from inventory.queries import used_up
from inventory.services import count_sheets as services
from shop.flows import count_sheets, stocktaking, use_rates
from shop.shared.errors import Invalid
from tests import forge, makers
from tests.forge import GROUND
from tests.makers import AT
from tests.pages.pressing import ODD, follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def look(item: Item, found: int, at: dt.datetime) -> None:
    with transaction.atomic():
        sheet = services.open_sheet("belts", queries.of_items([item.code]), stamp=makers.stamp(at=at))
    (line,) = queries.lines(sheet)
    with transaction.atomic():
        count_sheets.count_line(line, found, typed=str(found), stamp=makers.stamp(at=at), reason="looked twice")


@pytest.fixture
def belts(db: None) -> Item:
    """A forge whose route says 8 belts for a hundred; between four counts five each go on 25 pieces, two written down."""
    make_shop()
    made = forge.make_forge(blanks=200)
    item = Item.objects.get(name="grinding belt")
    makers.put_in(item, 100)
    for number in range(4):
        at = AT + number * DAY
        look(item, 100 - 5 * number, at)
        forge.count(made.start(25, at=at + DAY / 4), GROUND, 25, at=at + DAY / 3, catch_up=True)
        with transaction.atomic():
            stocktaking.use(item, 2, stamp=makers.stamp(at=at + DAY / 2))
    return item


def test_what_was_written_down_and_what_was_missing_is_what_pieces_used(belts: Item) -> None:
    found = used_up.of(belts)
    assert found is not None
    assert (found.use.intervals, found.use.pieces, found.since) == (3, 75, 25)
    # 75 pieces used 15; eight in a hundred was believed, worth 50 pieces
    assert found.use.each == Fraction(4 + 15, 50 + 75)
    assert found.use.spread == 0  # every interval alike


def test_what_came_in_between_and_what_was_undone_is_no_use(belts: Item) -> None:
    from shop.flows import reversing

    makers.put_in(belts, 40, at=AT + 3.6 * DAY)
    with transaction.atomic():
        wrong = stocktaking.use(belts, 9, stamp=makers.stamp(at=AT + 3.7 * DAY)).entry
    assert wrong is not None
    with transaction.atomic():
        reversing.reverse(wrong.pk, stamp=makers.stamp(at=AT + 3.8 * DAY, reason="not here"))
    look(belts, 100 - 20 + 40, AT + 4 * DAY)
    found = used_up.of(belts)
    assert found is not None
    assert (found.use.intervals, found.use.each) == (4, Fraction(4 + 20, 50 + 100))


def test_the_routes_take_it_at_one_touch_and_then_agree(belts: Item) -> None:
    wanted = use_rates.proposal(belts)
    assert wanted is not None
    assert (wanted.was, wanted.now, [step.number for step in wanted.steps]) == (8, 15, [GROUND])
    with pytest.raises(Invalid), transaction.atomic():
        use_rates.take(belts, now=14, stamp=makers.stamp(at=AT + 9 * DAY))
    with transaction.atomic():
        (made,) = use_rates.take(belts, now=15, stamp=makers.stamp(at=AT + 9 * DAY))
    assert made.steps.get(number=GROUND).uses.get(item=belts).per_hundred == 15
    assert Route.objects.filter(pattern=made.pattern).count() == 2
    assert used_up.believed(belts) == Fraction(15, 100)  # the newest route alone
    with transaction.atomic():
        again = use_rates.proposal(belts)
        assert again is None or again.now > 15


def test_one_interval_or_none_proposes_nothing(db: None) -> None:
    make_shop()
    forge.make_forge()
    item = Item.objects.get(name="grinding belt")
    makers.put_in(item, 100)
    assert used_up.of(item) is None
    look(item, 100, AT)
    look(item, 80, AT + DAY)  # no piece was made meanwhile
    assert used_up.of(item) is None
    assert use_rates.proposal(item) is None


def test_the_item_s_page_says_it_and_leads_to_the_routes(belts: Item) -> None:
    desk = client_of("desk")
    page = text(desk.get(f"/item/{belts.code}"))
    assert "A hundred pieces use about 15.2, give or take 0, from 75 pieces made between four counts." in page
    assert "Put it into the routes" in page
    assert "Put it into the routes" not in text(client_of("hand").get(f"/item/{belts.code}"))
    address = f"/item/{belts.code}/use-rate"
    assert "the routes say 8 for a hundred pieces, counts say 15." in text(desk.get(address))
    assert press(desk, address, now="16").status_code == 422
    done = follow(desk, press(desk, address))
    assert "One new route written; runs that were begun keep theirs." in text(done)
    assert desk.get("/item/NONE/use-rate").status_code == 404


def test_no_odd_value_and_no_item_of_another_kind_changes_a_route(belts: Item) -> None:
    desk, routes = client_of("desk"), Route.objects.count()
    for odd in ODD:
        assert press(desk, f"/item/{belts.code}/use-rate", now=odd).status_code == 422, odd[:20]
    tool = Item.objects.get(kind=Item.Kind.TOOL)
    said = follow(desk, desk.get(f"/item/{tool.code}/use-rate"))
    assert "Too little is learned of it yet, or the routes say already what was learned." in text(said)
    assert desk.post(f"/item/{tool.code}/use-rate", {"now": "15"}).status_code == 422
    assert Route.objects.count() == routes

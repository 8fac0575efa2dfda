"""What the rack still gives of a blank, beside how many to start."""

import pytest

from inventory.models import Bar, Item
from inventory.queries import bar_gives
from inventory.queries.bar_gives import Gives
from shop.staff.views.floor_words import more_blanks
from tests import forge, makers
from tests.pages.pressing import text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.django_db
METRE = 1_000_000_000


@pytest.mark.parametrize(
    ("extra", "opened"), [(0, 0), (3, 0), (4, 1), (13, 1), (14, 2), (22, 2), (23, None)]
)  # three off cut bars, ten off one full bar, nine off the other
def test_more_blanks_open_full_bars_when_cut_ones_give_no_more(extra: int, opened: int | None) -> None:
    assert Gives(3, (10, 9)).opened(extra) == opened


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (26, ""),
        (27, "the extra one comes off a cut bar"),
        (29, "the 3 extra come off cut bars"),
        (30, "the 4 extra open a new bar"),
        (40, "the 14 extra open 2 new bars"),
        (60, "the 34 extra: more than the bars of this mill heat give"),
    ],
)
def test_it_is_said_in_words(number: int, said: str) -> None:
    assert more_blanks(number, 26, Gives(3, (10, 9))) == said


def test_bars_of_the_mill_heat_and_the_section_count_and_no_others() -> None:
    """A metre gives (1000 + 1.5875) / (92.075 + 1.5875) = 10.69: ten blanks, by hand; half a metre gives five."""
    make_shop()
    made = forge.make_forge(blanks=26)
    assert made.blank.section is not None
    bar = makers.make_item(Item.Kind.BAR, grade=made.blank.grade, section=made.blank.section)
    first = makers.put_in(bar, METRE, melt=made.melt)
    makers.put_in(bar, METRE, melt=made.melt)
    cut = makers.put_in(bar, METRE // 2, melt=made.melt)
    Bar.objects.filter(pk=cut.pk).update(parent=first.pk)
    makers.put_in(bar, METRE)  # of another mill heat
    makers.put_in(bar, METRE, melt=made.melt, place="DOOR")
    assert bar_gives.of(made.blank, made.melt) == Gives(5, [10, 10])
    page = text(client_of("hand").get(f"/floor/start/{made.head.code}?wanted=29"))
    assert "extra open a new bar" in page or "extra come off cut bars" in page

"""A bar at the saw: blanks, what is left, scrap and swarf in one entry, refused where it must not be cut."""

import pytest
from django.db import IntegrityError, transaction

from inventory.models import Bar, Cut, Entry, Holding, Item, Lot, LotParent, Movement
from inventory.services import catalogue, correcting, steel_items
from inventory.services.correcting import CannotCorrect
from inventory.services.cutting import Blanks, NotToBeCut, SawJob
from inventory.services.reading import BarLength
from shop.flows import reversing, sawing
from shop.shared.errors import Invalid
from shop.shared.units import parse_length
from tests import makers
from tests.makers import AT, FOOT_NM, actor, stamp
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
KERF = 1_587_500  # 1/16 in


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()


def bar_of(length_nm: int = 20 * FOOT_NM, **facts: object) -> Bar:
    item = Item.objects.filter(kind="bar").first() or makers.make_item(Item.Kind.BAR)
    return makers.put_in(item, length_nm, **facts).bar


def blank_of(length: str = "4 7/16 in") -> Item:
    with transaction.atomic():
        return steel_items.blank_item(
            makers.make_grade(), makers.make_section(), parse_length(length).nm, at=AT, by=actor()
        )


def rest(text: str) -> BarLength:
    return BarLength(parse_length(text).nm, text)


def cut(bar: Bar, reason: str = "", **wanted: object) -> sawing.CutDone:
    blank, pieces = wanted.pop("blank", None), wanted.pop("pieces", 0)
    blanks = [Blanks(blank, pieces)] if blank else wanted.pop("blanks", [])
    with transaction.atomic():
        return sawing.cut(bar, SawJob(**{"kerf_nm": KERF, "blanks": blanks, **wanted}), stamp=stamp(reason=reason))


def test_ten_blanks_come_off_a_bar_and_what_is_left_is_a_bar_with_a_number_of_its_own():
    bar, blank = bar_of(cost_minor=20_000), blank_of()
    done = cut(bar, blank=blank, pieces=10, left=[rest("16 ft 3 in")])
    blanks, remnant = done.lots
    assert (blanks.item, blanks.melt) == (blank, bar.lot.melt)
    assert Holding.objects.get(lot=blanks).on_hand == 10
    assert remnant.bar.parent == bar
    assert remnant.bar.number != bar.number
    assert remnant.bar.typed == "16 ft 3 in"
    made = done.cut
    assert made.kerfs == 10
    assert made.taken_nm == 20 * FOOT_NM
    # 240 in less 10 of 4-7/16 and ten kerfs of 1/16 is 195 in; 195 in was taped.
    assert made.difference_nm == 0
    assert not Holding.objects.filter(lot=bar.lot, on_hand__gt=0).exists()
    assert set(LotParent.objects.filter(parent=bar.lot).values_list("child_id", "quantity")) == {
        (blanks.pk, made.pieces_nm),
        (remnant.pk, made.remnant_nm),
    }
    assert blanks.cost_minor + remnant.cost_minor == 20_000


def test_blanks_of_two_lengths_come_off_one_bar():
    bar, long, short = bar_of(cost_minor=20_000), blank_of("5 1/8 in"), blank_of("3 5/8 in")
    # Six of 5-1/8 and four of 3-5/8 in with ten kerfs of 1/16 in are 45 in and 7/8: 194 in and 1/8 are left of 240.
    done = cut(bar, blanks=[Blanks(long, 6), Blanks(short, 4)], left=[rest("16 ft 2 1/8 in")])
    assert done.cut.difference_nm == 0
    assert (done.cut.pieces, done.cut.kerfs) == (10, 10)
    assert [(kind.blank, kind.count) for kind in done.cut.kinds.order_by("pk")] == [(long, 6), (short, 4)]
    assert [(lot.item, lot.melt) for lot in done.lots[:2]] == [(long, bar.lot.melt), (short, bar.lot.melt)]
    assert sum(lot.cost_minor for lot in done.lots) == 20_000
    with transaction.atomic():
        reversing.reverse(done.cut.entry_id, stamp=stamp())
    assert Holding.objects.get(lot=bar.lot, place__code="RACK").on_hand == 20 * FOOT_NM


def test_one_kind_of_blank_named_twice_is_refused():
    blank = blank_of()
    with pytest.raises(Invalid) as caught:
        cut(bar_of(), blanks=[Blanks(blank, 1), Blanks(blank, 2)], left=[rest("18 ft")])
    assert "blank" in caught.value.fields


def test_the_rest_by_the_tape_is_what_counts_and_the_difference_is_in_the_book():
    bar, blank = bar_of(), blank_of()
    done = cut(bar, blank=blank, pieces=10, left=[rest("16 ft 2 1/2 in")])
    assert done.cut.difference_nm == parse_length("1/2 in").nm
    done = cut(bar_of(), blank=blank, pieces=10, left=[rest("16 ft 3 1/4 in")])
    assert done.cut.difference_nm == -parse_length("1/4 in").nm


def test_a_rest_far_off_is_asked_about_once_and_taken_with_a_reason():
    bar, blank = bar_of(), blank_of()
    with pytest.raises(Invalid) as caught:
        cut(bar, blank=blank, pieces=10, left=[rest("13 ft 3 in")])
    assert "left" in caught.value.fields
    assert not Cut.objects.exists()
    assert cut(bar, "a split end was broken off", blank=blank, pieces=10, left=[rest("13 ft 3 in")]).cut.pk


def test_the_last_piece_may_end_the_bar():
    # Ten pieces of 4-7/16 in with nine kerfs of 1/16 in are 44 in and 15/16 in exactly.
    bar, blank = bar_of(parse_length("44 15/16 in").nm), blank_of()
    made = cut(bar, blank=blank, pieces=10).cut
    assert (made.kerfs, made.scrap_nm, made.remnant_nm) == (9, 0, 0)


def test_a_sixteenth_too_short_is_refused_and_says_how_many_fit():
    bar, blank = bar_of(parse_length("44 7/8 in").nm), blank_of()
    with pytest.raises(Invalid) as caught:
        cut(bar, blank=blank, pieces=10)
    assert "9 of" in caught.value.sentence
    assert Entry.objects.filter(kind="cut").count() == 0


def test_a_rest_that_is_not_kept_is_scrap():
    bar, blank = bar_of(5 * FOOT_NM), blank_of()
    made = cut(bar, blank=blank, pieces=13, scrap=True).cut
    assert made.scrap_nm == parse_length("1 1/2 in").nm
    assert Movement.objects.get(entry=made.entry, to_place__code="SCRAP").qty == made.scrap_nm


def test_a_rest_of_which_nothing_is_said_is_asked_about():
    with pytest.raises(Invalid) as caught:
        cut(bar_of(5 * FOOT_NM), blank=blank_of(), pieces=10)
    assert caught.value.fields["left"].startswith("Left: about 1 ft 3")


def test_a_bar_is_sawn_in_two_and_a_length_comes_off_for_own_tooling():
    bar = bar_of()
    done = cut(bar, left=[rest("10 ft"), rest("9 ft 11 15/16 in")])
    assert [lot.bar.length_nm for lot in done.lots] == [10 * FOOT_NM, parse_length("9 ft 11 15/16 in").nm]
    half = done.lots[0].bar
    own = cut(half, own_nm=FOOT_NM, left=[rest("8 ft 11 15/16 in")]).cut
    assert (own.pieces, own.own_nm, own.difference_nm) == (0, FOOT_NM, 0)


def test_nothing_asked_is_nothing_cut():
    with pytest.raises(Invalid):
        cut(bar_of(), left=[rest("20 ft")])


def test_a_blank_of_other_steel_is_refused():
    other = makers.make_item(Item.Kind.BLANK, grade=makers.make_grade("O1"), blank_length_nm=FOOT_NM)
    with pytest.raises(Invalid) as caught:
        cut(bar_of(), blank=other, pieces=2)
    assert "blank" in caught.value.fields


@pytest.mark.parametrize("place", ["DOOR", "NOT-USED"])
def test_a_bar_that_is_not_checked_or_not_to_be_used_is_never_cut(place: str):
    with pytest.raises(NotToBeCut):
        cut(bar_of(place=place), blank=blank_of(), pieces=2)


def test_an_unmeasured_bar_is_never_cut():
    bar = bar_of()
    Bar.objects.filter(pk=bar.pk).update(measured=False)
    bar.refresh_from_db()
    with pytest.raises(NotToBeCut):
        cut(bar, blank=blank_of(), pieces=2)
    Bar.objects.filter(pk=bar.pk).update(measured=True)


def test_a_cut_is_undone_whole_while_everything_lies_where_it_was_put():
    bar, blank = bar_of(), blank_of()
    done = cut(bar, blank=blank, pieces=10, left=[rest("16 ft 3 in")])
    with transaction.atomic():
        reversing.reverse(done.cut.entry_id, stamp=stamp())
    assert Holding.objects.get(lot=bar.lot, place__code="RACK").on_hand == 20 * FOOT_NM
    assert not Holding.objects.filter(lot__in=done.lots, on_hand__gt=0).exists()


def test_the_equation_of_a_cut_is_a_constraint():
    made = cut(bar_of(), blank=blank_of(), pieces=2, scrap=True).cut
    with pytest.raises(IntegrityError), transaction.atomic():
        Cut.objects.filter(pk=made.pk).update(scrap_nm=made.scrap_nm + 1)


def test_a_bar_whose_paint_is_lost_serves_for_own_tooling_only():
    bar = bar_of()
    with transaction.atomic():
        unnamed = sawing.paint_lost(bar, stamp=stamp(reason="end ground off"))
    assert unnamed.lot.item.grade.code == "UNKNOWN"
    assert not unnamed.lot.melt.known
    with pytest.raises(NotToBeCut):
        cut(unnamed, blank=blank_of(), pieces=1)
    assert cut(unnamed, own_nm=FOOT_NM, left=[rest("18 ft 11 15/16 in")]).cut.pk
    assert Lot.objects.filter(parents__parent=bar.lot).count() == 1
    assert catalogue.place("RACK").holdings.filter(lot=unnamed.lot, on_hand__gt=0).count() == 0


def test_a_mill_heat_corrected_on_a_remnant_is_that_of_the_bar_and_of_its_blanks_too():
    bar, blank = bar_of(), blank_of()
    done = cut(bar, blank=blank, pieces=10, left=[rest("16 ft 3 in")])
    with transaction.atomic():
        right = correcting.melt_of(done.lots[1], "A77", at=AT, by=actor(), reason="read from the certificate")
    melts = Lot.objects.filter(pk__in=[bar.pk, *(lot.pk for lot in done.lots)]).values_list("melt_id", flat=True)
    assert set(melts) == {right.pk}


def test_nobody_names_the_mill_heat_of_a_bar_whose_paint_is_lost():
    with transaction.atomic():
        unnamed = sawing.paint_lost(bar_of(), stamp=stamp(reason="ground off"))
    with pytest.raises(CannotCorrect), transaction.atomic():
        correcting.melt_of(unnamed.lot, "A77", at=AT, by=actor(), reason="a guess")

"""Every kilogram of a melt is somewhere: received is what became of it, exactly, measured or worked out."""

import pytest
from django.db import transaction

from inventory.models import Bar, Melt
from inventory.queries import balance
from inventory.queries.balance import Stage
from inventory.services import purchasing, steel_items
from inventory.services.cutting import Blanks, SawJob
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.reading import BarLength
from shop.flows import delivering, doubting, reversing, sawing, stocktaking
from shop.shared.units import parse_length, parse_mass
from tests import makers
from tests.makers import AT, actor, stamp
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
KERF = 1_587_500


@pytest.fixture
def melt(db: None) -> Melt:
    """Three bars of 20 ft, weighed."""
    make_shop()
    makers.make_grade("1045")
    line = PaperLine(grade="1045", shape="round", size="2 in", heat_number="A7731", bars="3 @ 20 ft", scale="640 lb",
                     weighed_by="own scale")  # fmt: skip
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
        delivering.receive(firm, Paper([line]), stamp=stamp())
    return Melt.objects.get(heat_number="A7731")


def saw(bar: Bar, pieces: int, left: str) -> sawing.CutDone:
    with transaction.atomic():
        blank = steel_items.blank_item(
            makers.make_grade(), makers.make_section(), parse_length("4 7/16 in").nm, at=AT, by=actor()
        )
        job = SawJob(KERF, [Blanks(blank, pieces)], left=[BarLength(parse_length(left).nm, left)])
        return sawing.cut(bar, job, stamp=stamp())


def stages(melt: Melt) -> dict[str, Stage]:
    found = balance.of_melt(melt)
    made = {stage.item.kind: stage for stage in found}
    sheet = balance.whole(found)
    if sheet:
        assert sheet.received_mg == sum(row.mass_mg or 0 for row in sheet.rows)
    for stage in made.values():
        assert stage.came_qty == sum(row.qty for row in stage.parts)
        if stage.came_mg is not None:
            assert stage.came_mg == sum(row.mass_mg or 0 for row in stage.parts)
    return made


def parts(stage: Stage) -> dict[str, int]:
    return {row.words: row.qty for row in stage.parts}


def test_what_was_weighed_is_split_over_rack_blanks_and_kerf_to_the_milligram(melt: Melt) -> None:
    saw(Bar.objects.order_by("pk")[0], 10, "16 ft 3 in")
    made = stages(melt)
    bars = made["bar"]
    assert bars.came_mg == parse_mass("640 lb").mg
    assert bars.came[0].basis == "weighed"
    assert parts(bars) == {
        "on the rack": parse_length("56 ft 3 in").nm,
        "kerf": 10 * KERF,
        "in blanks": 10 * parse_length("4 7/16 in").nm,
    }
    in_blanks = next(row.mass_mg for row in bars.parts if row.words == "in blanks")
    assert made["blank"].came_mg == in_blanks
    assert parts(made["blank"]) == {"in bins": 10}


def test_a_cut_that_is_undone_leaves_no_trace_in_the_balance(melt: Melt) -> None:
    before = stages(melt)
    done = saw(Bar.objects.order_by("pk")[0], 10, "16 ft 3 in")
    with transaction.atomic():
        reversing.reverse(done.cut.entry_id, stamp=stamp(reason="the wrong bar"))
    after = stages(melt)
    assert after["bar"].parts == before["bar"].parts
    assert "blank" not in after or not after["blank"].came_qty


def test_what_the_tape_finds_short_after_the_saw_stands_by_itself(melt: Melt) -> None:
    saw(Bar.objects.order_by("pk")[0], 10, "16 ft 2 1/2 in")
    assert parts(stages(melt)["bar"])["missing by tape or count"] == parse_length("1/2 in").nm


def test_a_corrected_length_was_never_received(melt: Melt) -> None:
    with transaction.atomic():
        stocktaking.correct_length(Bar.objects.order_by("pk")[0], "19 ft", stamp=stamp(reason="read wrongly"))
    assert parts(stages(melt)["bar"]) == {"on the rack": parse_length("59 ft").nm}


def test_what_went_back_is_scrap_or_lost_its_paint_is_told_apart(melt: Melt) -> None:
    first, second, third = Bar.objects.select_related("lot__item").order_by("pk")
    with transaction.atomic():
        doubting.send_back([first.lot], stamp=stamp(reason="bent"))
        sawing.paint_lost(second, stamp=stamp(reason="ground off"))
        stocktaking.write_off(third.lot, third.length_nm, place=makers.place("RACK"), cause="cracked", stamp=stamp())
    twenty = parse_length("20 ft").nm
    assert parts(stages(melt)["bar"]) == {
        "scrap ends, trim and scrap": twenty,
        "sent back": twenty,
        "paint lost, grade unknown": twenty,
    }
    unknown = Melt.objects.get(grade__code="UNKNOWN")
    assert parts(stages(unknown)["bar"]) == {"on the rack": twenty}


def test_the_scale_stands_beside_what_was_worked_out(melt: Melt) -> None:
    found = balance.weighed(melt)
    assert found is not None
    assert found.scale_mg == parse_mass("640 lb").mg
    assert abs(found.computed_mg / found.scale_mg - 1) < 0.01
    assert balance.weighed(makers.make_melt()) is None


def test_heads_and_tools_are_counted_and_their_weight_is_not_known(melt: Melt) -> None:
    tool = makers.make_tool()
    head = makers.put_in(tool.head, 6, melt=melt)
    makers.put_in(tool.handle, 6)
    makers.put_in(tool.wedge, 12)
    makers.make_up(tool, 4)
    made = stages(Melt.objects.get(pk=head.melt_id))
    assert parts(made["head"]) == {"on the shelf": 2, "went into what was made": 4}
    assert parts(made["tool"]) == {"on the shelf": 4}
    assert made["head"].came_mg is None


def test_the_whole_sheet_shows_blanks_where_they_are_and_no_gram_twice(melt: Melt) -> None:
    done = saw(Bar.objects.order_by("pk")[0], 10, "16 ft 3 in")
    blank = next(lot for lot in done.lots if lot.item.kind == "blank")
    with transaction.atomic():
        stocktaking.use(blank.item, 4, stamp=stamp(reason="forged"), what_for="WORKED-UP")
    sheet = balance.whole(balance.of_melt(melt))
    assert sheet is not None
    assert sheet.received_mg == parse_mass("640 lb").mg
    assert {row.words for row in sheet.rows} == {"on the rack", "kerf", "in bins", "went into what was made"}
    masses = {row.words: row.mass_mg or 0 for row in sheet.rows}
    assert abs(masses["in bins"] / masses["went into what was made"] - 6 / 4) < 1e-6


def test_a_rest_that_is_measured_again_was_received_all_the_same(melt: Melt) -> None:
    saw(Bar.objects.order_by("pk")[0], 10, "16 ft 3 in")
    rest = Bar.objects.exclude(parent=None).get()
    with transaction.atomic():
        stocktaking.correct_length(rest, "16 ft 2 in", stamp=stamp(reason="taped again"))
    bars = stages(melt)["bar"]
    assert bars.came_qty == parse_length("60 ft").nm
    assert parts(bars)["missing by tape or count"] == parse_length("1 in").nm
    with transaction.atomic():
        stocktaking.correct_length(rest, "16 ft 4 in", stamp=stamp(reason="taped a third time"))
    assert parts(stages(melt)["bar"])["found more by tape or count"] == -parse_length("1 in").nm


def test_a_delivery_that_is_undone_leaves_an_empty_balance(melt: Melt) -> None:
    bar = Bar.objects.select_related("lot").order_by("pk")[0]
    with transaction.atomic():
        reversing.reverse(bar.lot.entry_id, stamp=stamp(reason="another shop's steel"))
    assert balance.of_melt(melt) == []
    assert balance.whole([]) is None
    assert balance.weighed(melt) is None


def test_blanks_that_a_count_found_are_counted_and_weigh_nothing_known(melt: Melt) -> None:
    blank = saw(Bar.objects.order_by("pk")[0], 10, "16 ft 3 in").cut.kinds.get().blank
    with transaction.atomic():
        stocktaking.count(blank, makers.place("BIN"), 13, stamp=stamp())
    unknown = Melt.objects.get(known=False, grade__code="1045")
    (found,) = balance.of_melt(unknown)
    assert parts(found) == {"in bins": 3, "found more by tape or count": -3}
    assert {row.mass_mg for row in found.parts} == {None}
    assert stages(melt)["blank"].came_qty == 10


def test_what_scale_and_tape_cannot_tell_is_said_to_be_no_difference(melt: Melt) -> None:
    found = balance.weighed(melt)
    assert found is not None
    assert found.off.off_mg == found.scale_mg - found.computed_mg
    assert found.off.sure_to_mg > found.step_mg / 2

"""The grade book on the Rack's pages: every grade with its sources, rows of limits written, changed and dropped."""

import re
import time

import pytest
from django.db import transaction
from django.test import Client

from inventory.calc.grades_seed import ROWS
from inventory.calc.hardness_seed import SOAKS, TEMPER_POINTS, TOOL_HARDNESS
from inventory.models import Certificate, Grade, LimitRow
from inventory.queries import findings
from inventory.queries.grade_book import as_typed
from inventory.services import grade_book
from shop.shared.models import AuditLine
from tests import makers
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

ROW = {
    "document": "EN 10083-2",
    "edition": "2006",
    "limits": "C .42-.50 Si .40 Mn .50-.80",
    "source": "an invented copy",
}


@pytest.fixture
def desk(db: None) -> Client:
    make_shop()
    with transaction.atomic():
        grade_book.seed()
        grade_book.unknown_grade()
    return client_of("desk")


def page_of(code: str, act: str = "") -> str:
    return f"/rack/grade/{Grade.objects.get(code=code).pk}{act}"


def row_of(code: str, document: str, edition: str) -> LimitRow:
    return LimitRow.objects.get(grade__code=code, document=document, edition=edition)


# ---- what is shown


def test_the_rack_leads_to_every_grade_with_its_density_and_where_it_was_read(desk: Client) -> None:
    assert "/rack/grades" in desk.get("/rack").content.decode()
    page = desk.get("/rack/grades")
    said = text(page)
    for grade in Grade.objects.exclude(code="UNKNOWN"):
        assert f'href="/rack/grade/{grade.pk}"' in page.content.decode()
        assert grade.density_source in said
    assert "UNKNOWN" not in said
    assert "7.84" in said
    assert "ASTM A29/A29M, edition 16" in said
    for one in TOOL_HARDNESS:
        assert one.document in said
    assert "certifies nothing" in said


@pytest.mark.parametrize("code", sorted({row.grade for row in ROWS}))
def test_a_grade_shows_every_row_in_its_documents_order_with_source_and_standing(desk: Client, code: str) -> None:
    page = desk.get(page_of(code))
    said, source = text(page), page.content.decode()
    for row in LimitRow.objects.filter(grade__code=code).prefetch_related("elements"):
        assert row.source in said
        assert row.standing.capitalize() in said
        table = source[source.index(f"Limits of the heat analysis, {row}<") :].partition("</table>")[0]
        heads = re.findall(r"<th scope=\"col\"[^>]*>([^<]+)</th>", table)
        assert heads == ["%", *row.elements.order_by("place").values_list("element", flat=True)]


def test_published_tempering_stands_apart_from_any_certificate_with_its_sources_and_the_caution(desk: Client) -> None:
    for code in {one.grade for one in TEMPER_POINTS}:
        said = text(desk.get(page_of(code)))
        assert "no certificate" in said
        assert "Caution: hardened, not tempered" in said
        for one in (*TEMPER_POINTS, *SOAKS):
            assert one.grade != code or one.source in said
    assert "800 °F (427 °C)" in text(desk.get(page_of("4340")))
    assert "as quenched" in text(desk.get(page_of("4140")))
    bare = text(desk.get(page_of("1060")))
    assert "No published figures are kept for 1060" in bare
    assert "Caution" not in bare


def test_a_grade_without_a_row_says_so_and_offers_to_write_one(desk: Client) -> None:
    makers.make_grade("9260")
    page = desk.get(page_of("9260"))
    assert "No limits are kept for 9260" in text(page)
    assert page_of("9260", "/limits") in page.content.decode()
    assert "without a source" in text(page)
    hand = client_of("hand").get(page_of("9260"))
    assert "No limits are kept for 9260" in text(hand)
    assert page_of("9260", "/limits") not in hand.content.decode()


# ---- writing


def test_a_row_is_written_as_the_tables_print_it(desk: Client) -> None:
    makers.make_grade("9260")
    said = text(follow(desk, press(desk, page_of("9260", "/limits"), **ROW)))
    assert "EN 10083-2, edition 2006" in said
    row = row_of("9260", "EN 10083-2", "2006")
    assert as_typed(row) == "C 0.42-0.50 Si 0.40 Mn 0.50-0.80"
    assert row.standing == LimitRow.Standing.SEEN
    assert AuditLine.objects.filter(action="grade limits written", subject="grade 9260").count() == 1


def test_a_row_that_is_partly_carried_over_stays_marked_so(desk: Client) -> None:
    row = row_of("1045", "SAE J403", "NOV01")
    press(desk, f"/rack/limits/{row.pk}", limits="C .43-.50 Mn .60-.90 P .030 S .050 Si .35")
    row.refresh_from_db()
    assert row.standing == LimitRow.Standing.CARRIED
    form = {"document": row.document, "edition": row.edition, "limits": as_typed(row), "source": row.source}
    desk.post(f"/rack/limits/{row.pk}", form)
    row.refresh_from_db()
    assert row.standing == LimitRow.Standing.SEEN


def test_a_changed_row_judges_from_now_on_and_what_was_found_before_stays(desk: Client) -> None:
    melt = makers.make_melt(grade=Grade.objects.get(code="1045"))
    paper = makers.file_certificate(melt, C="0.49", Mn="0.7", P="0.01", S="0.01")
    assert paper.finding == Certificate.Finding.PASS
    row = row_of("1045", "ASTM A29/A29M", "16")
    follow(desk, press(desk, f"/rack/limits/{row.pk}", limits="C .43-.48 Mn .60-.90 P .040 S .050"))
    paper.refresh_from_db()
    assert paper.finding == Certificate.Finding.PASS
    check = findings.check_of(paper, melt)
    assert check is not None
    assert check.verdict.value == Certificate.Finding.FAIL
    said = text(desk.get(f"/rack/certificate/{paper.pk}"))
    assert "within the limits" in said
    assert "The grade book has changed since" in said


def test_a_dropped_row_is_gone_and_said_to_be_so_to_whoever_was_still_changing_it(desk: Client) -> None:
    row = row_of("1045", "ASTM A29/A29M", "16")
    follow(desk, press(desk, f"/rack/limits/{row.pk}/drop"))
    assert not LimitRow.objects.filter(pk=row.pk).exists()
    assert desk.get(f"/rack/limits/{row.pk}").status_code == 404
    assert desk.post(f"/rack/limits/{row.pk}/drop").status_code == 404


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"document": "astm  a29/A29M", "edition": "16"}, "1045 has limits of astm a29/A29M, edition 16"),
        ({"document": "ASTM A29/A29M", "edition": ""}, "edition not stated; change that row"),
        ({"document": " "}, "needed"),
        ({"source": ""}, "needed"),
        ({"limits": "C"}, "symbol and percent in turn"),
        ({"limits": "C .50-.43"}, "symbol and percent in turn"),
        ({"limits": "C .5 C .6"}, "each element once"),
        ({"limits": "Xx .5"}, "symbol and percent in turn"),
        ({"limits": "C 1e900000"}, "symbol and percent in turn"),
        ({"limits": "C NaN Mn Infinity"}, "symbol and percent in turn"),
        ({"limits": "C " + "9" * 390}, "symbol and percent in turn"),
    ],
)
def test_a_row_that_cannot_be_is_refused_at_once_and_nothing_is_kept(desk: Client, typed: dict, words: str) -> None:
    before = LimitRow.objects.count(), AuditLine.objects.count()
    begun = time.monotonic()
    answer = press(desk, page_of("1045", "/limits"), **{**ROW, **typed})
    assert time.monotonic() - begun < 2
    assert answer.status_code == 422
    assert words in text(answer).replace("  ", " ")
    assert (LimitRow.objects.count(), AuditLine.objects.count()) == before


def test_the_density_is_changed_with_its_source_and_never_without(desk: Client) -> None:
    address = page_of("1045", "/density")
    bare = press(desk, address, density="7.83", source=" ")
    assert bare.status_code == 422
    assert press(desk, address, density="78.5", source="typed wrongly").status_code == 422
    said = text(follow(desk, press(desk, address, density="7,83", source="own piece, weighed and measured")))
    assert "7.83 g/cm³, own piece, weighed and measured" in said
    assert Grade.objects.get(code="1045").density_ug_per_cm3 == 7_830_000


# ---- who may


def test_a_hand_reads_the_grade_book_and_changes_nothing(desk: Client) -> None:
    hand, row = client_of("hand"), row_of("1045", "ASTM A29/A29M", "16")
    before = AuditLine.objects.count()
    page = hand.get(page_of("1045"))
    assert page.status_code == 200
    assert f"/rack/limits/{row.pk}" not in page.content.decode()
    for address in (
        page_of("1045", "/limits"),
        page_of("1045", "/density"),
        f"/rack/limits/{row.pk}",
        f"/rack/limits/{row.pk}/drop",
    ):
        assert hand.get(address).status_code == 403
        assert hand.post(address, ROW).status_code == 403
    assert AuditLine.objects.count() == before
    assert Client().get("/rack/grades").status_code == 302


@pytest.mark.parametrize("number", ["0", "-1", "999999999", "9999999999999999999", "1e5", "%00", "x"])
def test_no_address_breaks_over_a_number(desk: Client, number: str) -> None:
    for address in ("/rack/grade/{}", "/rack/grade/{}/limits", "/rack/grade/{}/density", "/rack/limits/{}"):
        assert desk.get(address.format(number)).status_code == 404, address

"""A certificate is filed with its mill heat, judged element by element at once, awaited, handed out, taken back."""

import hashlib
import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.template.loader import render_to_string
from django.test import Client

from inventory.models import Certificate, LimitRow, Melt
from inventory.queries import cuttable, papers
from inventory.services import grade_book
from shop.shared.models import AuditLine
from tests import makers
from tests.pages.pressing import ODD, follow, forms, press, text
from tests.pages.test_drawings import PDF, REFUSED, kept, named, photo, png
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

Finding = Certificate.Finding
GOOD = {"el_C": "0.46", "el_Mn": ".74", "el_P": "0,011", "el_S": "0.024 %"}


@pytest.fixture(autouse=True)
def folder(settings, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"


@pytest.fixture
def hand(db: None) -> Client:
    make_shop()
    with transaction.atomic():
        grade_book.seed()
    return client_of("hand")


@pytest.fixture
def melt(hand: Client) -> Melt:
    made = makers.make_melt("0A7731")
    Melt.objects.filter(pk=made.pk).update(certificate_awaited=True)
    return made


def page_of(melt: Melt) -> str:
    return f"/rack/melt/{melt.pk}/certificate"


def row(document: str = "ASTM A29/A29M", edition: str = "16", grade: str = "1045") -> str:
    return str(LimitRow.objects.get(grade__code=grade, document=document, edition=edition).pk)


def send(client: Client, melt: Melt, file: SimpleUploadedFile | None = None, **typed: str):
    fields = {**forms(client.get(page_of(melt)))[0].fields, **typed}
    return client.post(page_of(melt), {**fields, **({"file": file} if file else {})})


# ---- filed


def test_the_paper_alone_will_do_and_comes_back_as_a_file_to_be_saved(hand: Client, melt: Melt, folder: Path) -> None:
    said = text(follow(hand, send(hand, melt, named("heat 0A7731 (scan).pdf", PDF, "application/pdf"))))
    made = Certificate.objects.get()
    assert "is here and not read yet" in said
    assert (made.finding, made.file_name, made.filed_by) == (Finding.NOT_READ, "heat 0A7731 (scan).pdf", made.filed_by)
    assert kept(folder) == [made.file]
    assert hashlib.sha256(PDF).hexdigest() in made.file
    assert not Melt.objects.get(pk=melt.pk).certificate_awaited
    address = f"/rack/certificate/{made.pk}/paper"
    assert address in hand.get(f"/rack/certificate/{made.pk}").content.decode()
    answer = hand.get(address)
    assert (answer.status_code, answer.content) == (200, PDF)
    assert answer["Content-Disposition"] == 'attachment; filename="heat 0A7731 (scan).pdf"'
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert Client().get(address).status_code == 302


def test_a_photo_of_the_paper_loses_the_place_where_it_was_taken(hand: Client, melt: Melt, folder: Path) -> None:
    follow(hand, send(hand, melt, named("paper.jpg", photo(), "image/jpeg")))
    assert b"Exif" not in (folder / Certificate.objects.get().file).read_bytes()


def test_read_and_within_limits_takes_initials_and_nothing_else(hand: Client, melt: Melt) -> None:
    said = text(follow(hand, send(hand, melt, read_by="he")))
    assert "read and within limits, HE" in said
    assert Certificate.objects.get().finding == Finding.BY_EYE


def test_only_the_grades_own_elements_are_asked_in_the_order_of_its_table(hand: Client, melt: Melt) -> None:
    def asked(of: Melt, **typed: str) -> list[str]:
        page = hand.post(page_of(of), typed) if typed else hand.get(page_of(of))
        return [name for name in forms(page)[0].fields if name.startswith("el_")]

    assert asked(melt) == ["el_C", "el_Mn", "el_P", "el_S"]
    w1 = makers.make_melt(grade=LimitRow.objects.filter(grade__code="W1")[0].grade)
    assert asked(w1) == [f"el_{element}" for element in "C Mn P S Si Cr Ni Mo V W Cu".split()]
    makers.make_grade("9260")
    with transaction.atomic():
        for edition, limits in (("1", "C .5 Si .5 Mn .5"), ("2", "Si .5 Cu .2")):
            typed = grade_book.TypedRow("D", edition, limits, "an invented sheet")
            grade_book.save_row(makers.make_grade("9260"), typed, at=makers.AT, by=makers.actor())
    other = makers.make_melt(grade=makers.make_grade("9260"))
    assert asked(other) == ["el_C", "el_Si", "el_Mn", "el_Cu"]
    chosen = asked(other, against=row("D", "2", "9260"), issued_on="yesterday")
    assert chosen == ["el_Si", "el_Cu", "el_C", "el_Mn"]


@pytest.mark.parametrize(
    ("typed", "finding", "words"),
    [
        ({}, Finding.PASS, "within the limits of ASTM A29/A29M, edition 16"),
        ({"el_C": "0.52"}, Finding.FAIL, "C “0.52” is 0.02 % above the most, 0.50 %."),
        ({"el_Mn": ".594"}, Finding.FAIL, "Mn “.594” is 0.006 % below the least, 0.60 %."),
        ({"el_P": ""}, Finding.INCOMPLETE, "P is not reported"),
        ({"el_P": "n/a"}, Finding.INCOMPLETE, "P is not reported"),
        ({"el_S": "<0.06"}, Finding.UNCLEAR, "may be inside the limit or outside it"),
        ({"el_S": "low"}, Finding.UNCLEAR, "S “low” is not a figure"),
        ({"el_P": "110 ppm"}, Finding.PASS, "within the limits"),
    ],
)
def test_every_element_is_said_to_pass_or_not_at_once_by_how_much_and_against_what(
    hand: Client, melt: Melt, typed: dict, finding: str, words: str
) -> None:
    page = follow(hand, send(hand, melt, against=row(), **{**GOOD, **typed}))
    made, said = Certificate.objects.get(), text(page)
    assert made.finding == finding
    assert (made.document, made.edition) == ("ASTM A29/A29M", "16")
    assert words in said
    assert "Figures of the heat analysis against ASTM A29/A29M, edition 16" in said
    assert "0.43 to 0.50 %" in said
    assert "at most 0.040 %" in said
    assert "certifies nothing" in said
    assert ("/not-to-be-used" in page.content.decode()) == (finding == Finding.FAIL)
    assert (melt.pk in cuttable.melts_held([melt.pk])) == (finding == Finding.FAIL)


def test_limits_agreed_on_the_order_are_typed_once_and_judge_before_the_table(hand: Client, melt: Melt) -> None:
    said = text(follow(hand, send(hand, melt, against=row(), as_ordered="C .43-.45", **{**GOOD, "el_C": "0.46"})))
    assert Certificate.objects.get().finding == Finding.FAIL
    assert "C “0.46” is 0.01 % above the most, 0.45 %." in said
    assert "Judged by what was agreed on the order before the table: C .43-.45." in said


def test_another_document_is_typed_and_judged_by_none_that_is_kept(hand: Client, melt: Melt) -> None:
    said = text(follow(hand, send(hand, melt, against="other", document="EN 10083-2", edition="2006", **GOOD)))
    assert "No limits are kept for 1045 in EN 10083-2" in said
    assert Certificate.objects.get().finding == Finding.NO_LIMITS
    again = send(hand, melt, against="other", document="astm A576", edition="90b(2006)", **GOOD)
    assert "within the limits" in text(follow(hand, again))


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({}, "file", "choose the paper, write its figures, or say who read it"),
        (GOOD, "against", "Choose the document and edition"),
        ({**GOOD, "against": "other"}, "document", "which document the paper names"),
        ({**GOOD, "against": "row", "document": "EN 10083-2"}, "document", "Two documents are named"),
        ({**GOOD, "against": "999999"}, "against", "not on the list"),
        ({"read_by": "H3"}, "read_by", "initials"),
        ({"read_by": "Hammersmith"}, "read_by", "up to 8"),
        ({"number": "1", "issued_on": "2999-01-01"}, "issued_on", "no day a shop can mean"),
        ({"number": "1", "issued_on": "2100-01-01"}, "issued_on", "has not come yet"),
        ({"number": "1", "paper_type": "9.9"}, "paper_type", "not on the list"),
        ({"number": "1", "el_C": "x" * 25, "against": "row"}, "el_C", "up to 24 would work"),
    ],
)
def test_what_is_no_certificate_is_said_at_its_field_and_nothing_is_kept(
    hand: Client, melt: Melt, folder: Path, typed: dict, field: str, words: str
) -> None:
    typed = {**typed, **({"against": row()} if typed.get("against") == "row" else {})}
    before = AuditLine.objects.count()
    file = named("a.png", png()) if typed else None
    answer = send(hand, melt, file, **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'id="id_{field}_say"' in page
    assert words in re.sub(r"<[^>]+>", "", page[page.index(f'id="id_{field}_say"') :])[:220]
    assert (Certificate.objects.count(), AuditLine.objects.count(), kept(folder)) == (0, before, [])
    assert Melt.objects.get(pk=melt.pk).certificate_awaited
    for name, value in typed.items():
        if name.startswith("el_"):
            assert f'value="{value}"' in page, "what was typed stands there again"


@pytest.mark.long  # the odd values of every form try this one daily
def test_no_field_breaks_over_what_is_typed(hand: Client, melt: Melt) -> None:
    names = [*forms(hand.get(page_of(melt)))[0].typed, "file"]
    assert {"read_by", "number", "issued_on", "paper_type", "against", "document", "edition", "note"} < set(names)
    for name in names:
        for odd in ODD:
            before = Certificate.objects.count()
            answer = send(hand, melt, **{**GOOD, "against": row(), name: odd, "request_key": ""})
            assert answer.status_code in {302, 422}, (name, odd[:20])
            assert answer.status_code == 302 or Certificate.objects.count() == before


@pytest.mark.parametrize("case", list(REFUSED))
def test_a_file_that_may_not_be_kept_is_refused_beside_its_field_and_nothing_is_booked(
    hand: Client, melt: Melt, folder: Path, case: str
) -> None:
    name, content, declared, said = REFUSED[case]
    answer = send(hand, melt, named(name, content, declared), read_by="HE")
    assert answer.status_code == 422
    assert said in text(answer)
    assert 'id="id_file_say"' in answer.content.decode()
    assert (Certificate.objects.count(), kept(folder)) == (0, [])


def test_a_filing_that_breaks_off_leaves_no_file_behind(hand: Client, melt: Melt, folder: Path, monkeypatch) -> None:
    def broken(*_args: object, **_facts: object) -> None:
        assert kept(folder), "the file is written before the certificate is whole"
        raise RuntimeError("power cut")

    monkeypatch.setattr("inventory.services.certificates.audit.write", broken)
    with pytest.raises(RuntimeError):
        send(hand, melt, named("a.png", png()))
    assert (Certificate.objects.count(), kept(folder)) == (0, [])


def test_the_same_form_sent_twice_files_one_certificate(hand: Client, melt: Melt, folder: Path) -> None:
    fields = forms(hand.get(page_of(melt)))[0].fields
    for _ in range(2):
        assert hand.post(page_of(melt), {**fields, "file": named("a.png", png())}).status_code == 302
    assert hand.post(page_of(melt), {**fields, "file": named("a.png", png((9, 9)))}).status_code == 422
    assert (Certificate.objects.count(), len(kept(folder))) == (1, 1)


def test_a_paper_that_was_changed_on_the_disk_is_not_handed_out(hand: Client, melt: Melt, folder: Path) -> None:
    send(hand, melt, named("a.pdf", PDF, "application/pdf"))
    made = Certificate.objects.get()
    (folder / made.file).write_bytes(b"<html>")
    assert hand.get(f"/rack/certificate/{made.pk}/paper").status_code == 404
    assert hand.get(f"/rack/certificate/{made.pk}").status_code == 200


def test_words_of_the_paper_are_shown_and_never_run(hand: Client, melt: Melt) -> None:
    evil = "<script>alert(1)</script>"
    page = follow(
        hand, send(hand, melt, number=evil, note=evil, against="other", document=evil, edition=evil, el_C=evil[:24])
    )
    assert "<script>alert" not in page.content.decode()
    assert evil in text(page)
    assert "<script>alert" not in hand.get(page_of(melt)).content.decode()


# ---- awaited


def test_a_certificate_is_said_to_come_or_that_none_will(hand: Client, melt: Melt) -> None:
    assert "awaited" in text(hand.get(page_of(melt)))
    press(hand, f"{page_of(melt)}-awaited")
    assert not Melt.objects.get(pk=melt.pk).certificate_awaited
    press(hand, f"{page_of(melt)}-awaited")
    assert Melt.objects.get(pk=melt.pk).certificate_awaited


def test_melts_whose_certificate_is_awaited_are_listed_with_a_way_to_file_it(hand: Client) -> None:
    item = makers.make_item("bar")
    lots = [makers.put_in(item, 6_096_000_000, melt=makers.make_melt("0A7731", grade=item.grade)) for _ in range(2)]
    assert papers.awaited() == []
    assert render_to_string("staff/parts/awaited.html", {"awaited": papers.awaited()}).strip() == ""
    Melt.objects.update(certificate_awaited=True)
    shown = render_to_string("staff/parts/awaited.html", {"awaited": papers.awaited()})
    assert f"/rack/melt/{lots[0].melt_id}/certificate" in shown
    assert ">2<small>bars" in shown


# ---- taken back


def test_a_certificate_is_taken_back_with_a_reason_and_stays_to_be_read(hand: Client, melt: Melt) -> None:
    follow(hand, send(hand, melt, named("a.pdf", PDF, "application/pdf"), against=row(), **{**GOOD, "el_C": "0.9"}))
    made, desk = Certificate.objects.get(), client_of("desk")
    page = f"/rack/certificate/{made.pk}"
    assert f"{page}/take-back" not in hand.get(page).content.decode()
    assert f"{page}/take-back" in desk.get(page).content.decode()
    assert press(desk, f"{page}/take-back", reason=" ").status_code == 422
    follow(desk, press(desk, f"{page}/take-back", reason="it is of mill heat 0A7732", awaited="on"))
    assert "Taken back" in text(desk.get(page))
    assert "it is of mill heat 0A7732" in text(desk.get(page))
    assert "not-to-be-used" not in desk.get(page).content.decode()
    assert Melt.objects.get(pk=melt.pk).certificate_awaited
    assert hand.get(f"{page}/paper").content == PDF
    assert "taken back" in text(hand.get(page_of(melt)))
    assert press(desk, f"{page}/take-back", reason="again").status_code == 422


# ---- who may, and where it cannot be


def test_a_hand_files_and_reads_and_only_the_desk_takes_back(hand: Client, melt: Melt) -> None:
    made = makers.file_certificate(melt, C="0.45")
    page = f"/rack/certificate/{made.pk}"
    for client in (hand, client_of("desk"), client_of("owner")):
        assert client.get(page_of(melt)).status_code == 200
        assert client.get(page).status_code == 200
        assert client.get(f"{page}/paper").status_code == 404, "no paper was filed with it"
        assert send(client, melt, read_by="HE").status_code == 302
    assert hand.get(f"{page}/take-back").status_code == 403
    assert hand.post(f"{page}/take-back", {"reason": "x"}).status_code == 403
    stranger = Client()
    for address in (page_of(melt), page, f"{page}/paper", f"{page}/take-back"):
        assert stranger.get(address).status_code == 302
    assert Certificate.objects.filter(withdrawn_at=None).count() == 4


def test_steel_of_an_unknown_mill_heat_takes_none_and_says_what_to_do(hand: Client) -> None:
    unknown = makers.make_melt("unknown")
    page = hand.get(page_of(unknown))
    assert "The mill heat is unknown" in text(page)
    assert forms(page) == []
    answer = hand.post(page_of(unknown), {"read_by": "HE"})
    assert answer.status_code == 409
    assert not Certificate.objects.exists()


@pytest.mark.parametrize("number", ["0", "-1", "999999999", "9999999999999999999", "1e5", "%00", "x"])
def test_no_address_breaks_over_a_number(hand: Client, number: str) -> None:
    desk = client_of("desk")
    addresses = (
        "/rack/melt/{}/certificate",
        "/rack/melt/{}/certificate-awaited",
        "/rack/certificate/{}",
        "/rack/certificate/{}/paper",
        "/rack/certificate/{}/take-back",
    )
    for address in addresses:
        assert desk.get(address.format(number)).status_code == 404, address

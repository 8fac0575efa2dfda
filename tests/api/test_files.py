"""Files sent and fetched by a program: the paper of a certificate, the photos of a delivery."""

import hashlib
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from django.db import transaction
from django.http import HttpResponse

from inventory.models import Certificate, DeliveryPhoto, Melt
from inventory.services import certificates
from shop.shared.models import AuditLine, RequestKey
from tests import makers
from tests.api.asking import Program, data, problem
from tests.api.sending import PDF, jpeg, png
from tests.makers import AT, actor
from tests.people import client_of

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
STEEL = {"grade": "1045", "shape": "round", "size": "2 in", "heat_number": "A7731", "bars": "2 @ 20 ft"}
CSP = "sandbox; default-src 'none'"


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"


@pytest.fixture
def program(db: None) -> Program:
    return Program()


@pytest.fixture
def melt(program: Program) -> Melt:
    made = makers.make_melt("0A7731")
    Melt.objects.filter(pk=made.pk).update(certificate_awaited=True)
    return made


@pytest.fixture
def delivery(program: Program) -> int:
    makers.make_grade("1045")
    line = {**STEEL, "measured": "no", "certificate": "to come"}
    return data(program.post("deliveries", {"supplier": "Example Steel", "lines": [line]}), 201)["number"]


def send(program: Program, address: str, raw: bytes = PDF, kind: str = "application/pdf", **rest: Any) -> HttpResponse:
    return program.ask("POST", address, raw=raw, Content_Type=kind, **rest)


def kept(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.glob("*")) if folder.exists() else []


# The paper of a certificate


def test_a_paper_alone_is_filed_and_fetched_byte_by_byte(program: Program, melt: Melt) -> None:
    response = send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf&number=C-1&read_by=he")
    made = data(response, 201)
    assert (made["number"], made["read_by"], made["finding"]) == ("C-1", "HE", "read and within limits")
    assert made["file"] == {"name": "C-1.pdf", "sha256": hashlib.sha256(PDF).hexdigest()}
    assert made["melt"]["certificate_awaited"] is False
    assert data(program.get(response["Location"])) == made
    fetched = program.get(f"certificates/{made['id']}/paper")
    assert (fetched.status_code, fetched.content) == (200, PDF)
    assert (fetched["Content-Type"], fetched["ETag"]) == ("application/pdf", f'"{made["file"]["sha256"]}"')
    assert fetched["Content-Disposition"] == 'attachment; filename="C-1.pdf"'
    assert (fetched["Content-Security-Policy"], fetched["X-Content-Type-Options"]) == (CSP, "nosniff")
    again = program.get(f"certificates/{made['id']}/paper", If_None_Match=fetched["ETag"])
    assert (again.status_code, again.content) == (304, b"")


def test_a_file_has_the_same_headers_from_the_api_as_from_a_page(program: Program, melt: Melt, delivery: int) -> None:
    paper = data(send(program, f"melts/{melt.pk}/certificates/paper?name=Z%C3%A4hne%20%22C-1%22.pdf"), 201)["id"]
    photo = data(send(program, f"deliveries/{delivery}/photos?name=bend.jpg", jpeg(), "image/jpeg"), 201)["id"]
    hand = client_of("hand")
    names = ("Content-Type", "Content-Disposition", "Content-Security-Policy", "X-Content-Type-Options")
    for api, page in (
        (f"certificates/{paper}/paper", f"/rack/certificate/{paper}/paper"),
        (f"photos/{photo}", f"/door/photo/{photo}"),
    ):
        fetched, shown = program.get(api), hand.get(page)
        assert (fetched.status_code, fetched.content) == (shown.status_code, shown.content)
        assert [fetched[name] for name in names] == [shown[name] for name in names]


def test_a_paper_without_a_number_is_read_by_nobody_yet(program: Program, melt: Melt) -> None:
    made = data(send(program, f"melts/{melt.pk}/certificates/paper?name=scan.png", png(), "image/png"), 201)
    assert (made["number"], made["finding"]) == ("", "not read yet")


def test_the_paper_is_added_to_a_certificate_that_was_filed_by_its_figures(
    program: Program, melt: Melt, folder: Path
) -> None:
    made = makers.file_certificate(melt, C="0.46")
    address = f"certificates/{made.pk}/paper?name=C-1.pdf"
    problem(program.get(f"certificates/{made.pk}/paper"), 404)
    shown = data(send(program, address), 201)
    assert (shown["id"], shown["finding"], shown["file"]["name"]) == (made.pk, made.finding, "C-1.pdf")
    assert program.get(f"certificates/{made.pk}/paper").content == PDF
    assert AuditLine.objects.get(action="certificate paper kept").by == f"key {program.key.prefix}"
    told = problem(send(program, address, PDF + b"\n"), 409)
    assert "has its paper already" in told["detail"]
    assert kept(folder) == [Certificate.objects.get().file]
    problem(send(program, "certificates/999999/paper?name=C-1.pdf"), 404)


def test_a_certificate_that_was_taken_back_takes_no_paper(program: Program, melt: Melt, folder: Path) -> None:
    made = makers.file_certificate(melt, C="0.46")
    with transaction.atomic():
        certificates.withdraw(made, at=AT, by=actor(), reason="it is of melt 0A7732")
    problem(send(program, f"certificates/{made.pk}/paper?name=C-1.pdf"), 409)
    assert kept(folder) == []


def test_a_paper_sent_twice_with_one_key_is_filed_once_and_another_is_not_taken_for_it(
    program: Program, melt: Melt, folder: Path
) -> None:
    address, key = f"melts/{melt.pk}/certificates/paper?name=scan.png", "the-paper-of-that-melt"
    first = send(program, address, png(), "image/png", key=key)
    again = send(program, address, png(), "image/png", key=key)
    assert data(again, 201) == data(first, 201)
    assert again["Idempotency-Replayed"] == "true"
    assert Certificate.objects.count() == len(kept(folder)) == 1
    for other, raw in (
        (address, png() + b"x"),
        (address.replace("scan", "C-1"), png()),
        (f"{address}&number=1", png()),
    ):
        told = problem(send(program, other, raw, "image/png", key=key), 422)
        assert "used before" in told["detail"]
    assert Certificate.objects.count() == len(kept(folder)) == 1


def test_a_paper_that_is_refused_leaves_no_file_behind(program: Program, melt: Melt, folder: Path) -> None:
    unknown = makers.make_melt("unknown")
    problem(send(program, f"melts/{unknown.pk}/certificates/paper?name=C-1.pdf"), 409)
    problem(send(program, "melts/999999/certificates/paper?name=C-1.pdf"), 404)
    told = problem(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf&read_by=H3"), 422)
    assert [one["parameter"] for one in told["errors"]] == ["read_by"]
    assert (Certificate.objects.count(), kept(folder)) == (0, [])


def test_a_failure_of_the_service_leaves_no_file_behind(
    program: Program, melt: Melt, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(**_facts: object) -> None:
        assert kept(folder) != []
        raise ZeroDivisionError

    monkeypatch.setattr("inventory.services.certificates.audit.write", fail)
    problem(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf"), 500)
    assert (Certificate.objects.count(), kept(folder), RequestKey.objects.count()) == (0, [], 0)


def test_a_paper_that_is_gone_from_the_folder_is_not_found(program: Program, melt: Melt, folder: Path) -> None:
    made = data(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf"), 201)
    (folder / Certificate.objects.get().file).write_bytes(PDF + b"altered")
    problem(program.get(f"certificates/{made['id']}/paper"), 404)
    (folder / Certificate.objects.get().file).unlink()
    assert "last copy of the book" in problem(program.get(f"certificates/{made['id']}/paper"), 404)["detail"]


# The photos of a delivery


def test_photos_of_a_delivery_are_added_listed_and_fetched(program: Program, delivery: int) -> None:
    first = data(
        send(program, f"deliveries/{delivery}/photos?name=bend.jpg&words=the%20bend", jpeg(), "image/jpeg"), 201
    )
    response = send(program, f"deliveries/{delivery}/photos?name=slip.pdf")
    second = data(response, 201)
    assert (first["name"], first["words"], second["words"]) == ("bend.jpg", "the bend", "")
    assert data(program.get(f"deliveries/{delivery}/photos"))["rows"] == [first, second]
    page = data(program.get(f"deliveries/{delivery}/photos?limit=1"))
    assert page["rows"] == [first]
    assert data(program.get(page["next"]))["rows"] == [second]
    fetched = program.get(f"photos/{first['id']}")
    assert fetched["Content-Type"] == "image/jpeg"
    assert fetched["ETag"] == f'"{first["sha256"]}"' == f'"{hashlib.sha256(fetched.content).hexdigest()}"'
    assert b"nobody" not in fetched.content, "what hangs on a picture stays behind"
    assert program.get(response["Location"]).content == PDF


def test_a_photo_sent_twice_with_one_key_is_kept_once(program: Program, delivery: int, folder: Path) -> None:
    address, key = f"deliveries/{delivery}/photos?name=bend.jpg", "the-photo-of-that-lorry"
    first = send(program, address, jpeg(), "image/jpeg", key=key)
    assert data(send(program, address, jpeg(), "image/jpeg", key=key), 201) == data(first, 201)
    assert DeliveryPhoto.objects.count() == len(kept(folder)) == 1


def test_a_delivery_or_photo_that_is_not_there_is_not_found(program: Program, folder: Path) -> None:
    problem(send(program, "deliveries/99/photos?name=bend.jpg", jpeg(), "image/jpeg"), 404)
    problem(program.get("deliveries/99/photos"), 404)
    problem(program.get("photos/99"), 404)
    assert kept(folder) == []


# What is no paper and no photo


@pytest.mark.parametrize(
    "kind",
    ["", "application/json", "text/html", "multipart/form-data; boundary=x", "image/gif", "image/svg+xml", "image/*",
     "application/octet-stream", "application/x-www-form-urlencoded", "application/pdf, image/png", "pdf"],
)  # fmt: skip
def test_a_body_of_another_kind_is_not_read(program: Program, melt: Melt, kind: str) -> None:
    told = problem(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf", PDF, kind), 415)
    assert "application/pdf, image/jpeg, image/png" in told["detail"]


def test_a_packed_body_is_not_unpacked(program: Program, melt: Melt) -> None:
    problem(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf", Content_Encoding="gzip"), 415)


@pytest.mark.parametrize(
    ("name", "kind", "raw", "status"),
    [
        ("C-1.pdf", "application/pdf", b"<html></html>", 422),
        ("C-1.pdf", "application/pdf", PDF[:-20], 422),
        ("C-1.pdf", "application/pdf", PDF.replace(b"/Root", b"/JavaScript"), 422),
        ("C-1.pdf", "image/png", PDF, 422),
        ("C-1.png", "application/pdf", PDF, 422),
        ("C-1.png", "image/png", b"\x89PNG\r\n\x1a\n", 422),
        ("C-1.jpg", "image/jpeg", png(), 422),
        ("C-1.svg", "image/png", png(), 422),
        ("C-1", "application/pdf", PDF, 422),
        ("..", "application/pdf", PDF, 422),
        ("a" * 201, "application/pdf", PDF, 400),
        ("%00.pdf", "application/pdf", PDF, 400),
        ("%20", "application/pdf", PDF, 400),
    ],
)
def test_what_is_not_what_it_says_it_is_is_not_kept(
    program: Program, melt: Melt, folder: Path, name: str, kind: str, raw: bytes, status: int
) -> None:
    problem(send(program, f"melts/{melt.pk}/certificates/paper?name={name}", raw, kind), status)
    assert (Certificate.objects.count(), kept(folder), RequestKey.objects.count()) == (0, [], 0)


def test_a_file_needs_a_name_and_a_key(program: Program, melt: Melt) -> None:
    told = problem(send(program, f"melts/{melt.pk}/certificates/paper"), 400)
    assert [one["parameter"] for one in told["errors"]] == ["name"]
    problem(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf&words=x"), 400)
    problem(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf", key=None), 400)


@pytest.mark.parametrize("name", ["../../etc/C-1.pdf", "C:\\papers\\C-1.pdf", "\u202eC-1.pdf", "<b>C-1.pdf"])
def test_only_the_last_part_of_a_name_is_kept(program: Program, melt: Melt, folder: Path, name: str) -> None:
    made = data(send(program, f"melts/{melt.pk}/certificates/paper?name={quote(name)}"), 201)
    assert made["file"]["name"] in {"C-1.pdf", "bC-1.pdf"}
    assert kept(folder) == [Certificate.objects.get().file]


@pytest.mark.parametrize(
    ("accept", "status"),
    [("", 200), ("*/*", 200), ("application/pdf", 200), ("image/*;q=0.5", 200), ("application/json", 406),
     ("text/html, application/pdf;q=0", 406)],
)  # fmt: skip
def test_a_file_is_handed_out_to_whoever_takes_one(program: Program, melt: Melt, accept: str, status: int) -> None:
    made = data(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf"), 201)
    assert program.get(f"certificates/{made['id']}/paper", Accept=accept).status_code == status


def test_a_key_that_only_reads_fetches_and_sends_nothing(program: Program, melt: Melt, delivery: int) -> None:
    made = data(send(program, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf"), 201)
    photo = data(send(program, f"deliveries/{delivery}/photos?name=bend.jpg", jpeg(), "image/jpeg"), 201)
    reader, stranger = Program("stock:read"), Program("orders:read", "stock:write")
    for address in (f"certificates/{made['id']}/paper", f"photos/{photo['id']}", f"deliveries/{delivery}/photos"):
        assert reader.get(address).status_code == 200
        problem(stranger.get(address), 403)
    problem(send(reader, f"melts/{melt.pk}/certificates/paper?name=C-1.pdf"), 403)
    problem(send(reader, f"certificates/{made['id']}/paper?name=C-1.pdf"), 403)
    problem(send(reader, f"deliveries/{delivery}/photos?name=bend.jpg", jpeg(), "image/jpeg"), 403)

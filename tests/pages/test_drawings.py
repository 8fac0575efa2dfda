"""A drawing or photo that comes with a made-to-order line: looked through, kept, handed out; or nothing at all is booked."""

import hashlib
import io
import zlib
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from orders.models import Order, OrderLine
from shop.shared import clock, files
from shop.shared.errors import Invalid, NotFound
from tests import makers
from tests.makers import Tool
from tests.pages.pressing import forms, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

PDF = b"%PDF-1.4\n1 0 obj<</Type /Pages>>endobj 2 0 obj<</Type /Page>>endobj\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF\n"
HTML = b"<html><script>alert(1)</script></html>"
WORDS = {"made_words": "Hot cut hammer as drawn", "made_qty": "2", "made_price": "95"}


def png(size: tuple[int, int] = (8, 6), tail: bytes = b"") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (40, 30, 20)).save(out, "PNG")
    return out.getvalue() + tail


def photo() -> bytes:
    """Return a photo as a telephone makes one: lying on its side, with the place where it was taken."""
    out = io.BytesIO()
    picture, facts = Image.new("RGB", (8, 4)), Image.Exif()
    facts[0x0112] = 6  # orientation: turned by a quarter. Source: Exif 2.32, 4.6.4 A
    facts.get_ifd(0x8825)[1] = "N"  # the place. Source: Exif 2.32, 4.6.6
    picture.save(out, "JPEG", exif=facts, comment=b"from the telephone of nobody")
    return out.getvalue()


def packed(objects: bytes) -> bytes:
    """Return a PDF whose objects stand in a packed stream, as most programs write them."""
    squeezed = zlib.compress(objects)
    head = b"3 0 obj<</Type /ObjStm /N 1 /First 4 /Filter /FlateDecode /Length %d>>stream\n" % len(squeezed)
    return PDF.replace(b"trailer", head + squeezed + b"\nendstream endobj\ntrailer")


@pytest.fixture(autouse=True)
def folder(settings, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"


@pytest.fixture
def desk(db: None) -> Client:
    make_shop()
    makers.make_customer("Tarn and Thrupp")
    return client_of("desk")


def kept(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def take(desk: Client, file: SimpleUploadedFile | None, **more: str):
    form = forms(desk.get("/counter/take"))[0]
    typed = {**form.fields, "customer": "Tarn and Thrupp", **WORDS, **more}
    return desk.post("/counter/take", {**typed, **({"made_file": file} if file else {})})


def named(name: str, content: bytes, declared: str = "image/png") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, declared)


# ---- kept and handed out


def test_a_drawing_goes_with_the_words_and_comes_back_as_a_file_to_be_saved(desk: Client, folder: Path) -> None:
    assert take(desk, named("hot cut (rev B).pdf", PDF, "application/pdf")).status_code == 302
    line = OrderLine.objects.get()
    assert kept(folder) == [line.file]
    assert hashlib.sha256(PDF).hexdigest() in line.file
    assert (folder / line.file).stat().st_mode & 0o077 == 0
    page = desk.get(f"/order/{line.order.number}")
    assert "hot cut (rev B).pdf" in text(page)
    address = f"/order/{line.order.number}/line/1/file"
    assert address in page.content.decode()
    answer = client_of("hand").get(address)
    assert (answer.status_code, answer.content) == (200, PDF)
    assert answer["Content-Disposition"] == 'attachment; filename="hot cut (rev B).pdf"'
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert Client().get(address).status_code == 302


def test_a_line_added_later_may_bring_a_drawing(desk: Client, folder: Path) -> None:
    take(desk, None)
    order = Order.objects.get()
    form = forms(desk.get(f"/order/{order.number}/add"))[0]
    typed = {**form.fields, "words": "Its handle", "qty": "1", "file": named("handle.png", png())}
    assert desk.post(f"/order/{order.number}/add", typed).status_code == 302
    line = order.lines.get(number=2)
    assert (line.file_name, kept(folder)) == ("handle.png", [line.file])
    assert desk.get(f"/order/{order.number}/line/2/file")["Content-Type"] == "image/png"
    assert desk.get(f"/order/{order.number}/line/1/file").status_code == 404


def test_a_photo_loses_the_place_where_it_was_taken_and_stands_upright(desk: Client, folder: Path) -> None:
    assert take(desk, named("old head.JPG", photo(), "image/jpeg")).status_code == 302
    with Image.open(folder / OrderLine.objects.get().file) as picture:
        assert picture.size == (4, 8)
        assert not picture.getexif()
        assert "comment" not in picture.info


def test_what_hangs_behind_a_picture_is_left_behind(desk: Client, folder: Path) -> None:
    assert take(desk, named("a.png", png(tail=HTML))).status_code == 302
    assert HTML not in (folder / OrderLine.objects.get().file).read_bytes()


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_a_picture_of_every_kind_keeps_its_points(mode: str) -> None:
    out = io.BytesIO()
    Image.new(mode, (5, 7)).save(out, "PNG")
    with Image.open(io.BytesIO(files.look_at("a.png", "image/png", out.getvalue()).content)) as picture:
        assert picture.size == (5, 7)


def test_a_file_that_was_changed_on_the_disk_is_not_handed_out(desk: Client, folder: Path) -> None:
    take(desk, named("a.pdf", PDF, "application/pdf"))
    line = OrderLine.objects.get()
    (folder / line.file).write_bytes(HTML)
    assert desk.get(f"/order/{line.order.number}/line/1/file").status_code == 404
    (folder / line.file).unlink()
    assert desk.get(f"/order/{line.order.number}/line/1/file").status_code == 404


def test_the_same_slip_sent_twice_keeps_one_file_and_another_file_is_no_repeat(desk: Client, folder: Path) -> None:
    form = forms(desk.get("/counter/take"))[0]
    typed = {**form.fields, "customer": "Tarn and Thrupp", **WORDS}
    for _ in range(2):
        answer = desk.post("/counter/take", {**typed, "made_file": named("a.png", png())})
        assert answer.status_code == 302
    other = desk.post("/counter/take", {**typed, "made_file": named("a.png", png((9, 9)))})
    assert other.status_code == 422
    assert (Order.objects.count(), len(kept(folder))) == (1, 1)


# ---- refused, and nothing half done

REFUSED = {
    "a type that is not kept": ("drawing.svg", HTML, "image/svg+xml", "neither PDF, JPG nor PNG"),
    "no ending": ("drawing", PDF, "application/pdf", "neither PDF, JPG nor PNG"),
    "a page in a picture's clothes": ("a.png", HTML, "image/png", "not what its name says"),
    "a page behind a picture's first signs": ("a.png", b"\x89PNG\r\n\x1a\n" + HTML, "image/png", "cannot be opened"),
    "a picture declared as a page": ("a.png", png(), "text/html", "not what its name says"),
    "another ending than its content": ("a.pdf", png(), "application/pdf", "not what its name says"),
    "a picture broken off": ("a.png", png((400, 400))[:-300], "image/png", "cannot be opened"),
    "nothing in it": ("a.pdf", b"", "application/pdf", "is empty"),
    "too large": ("a.pdf", PDF[:-7] + b" " * 20_000_000 + b"\n%%EOF\n", "application/pdf", "larger than 20 MB"),
    "sealed": ("a.pdf", PDF.replace(b"<</Root", b"<</Encrypt 5 0 R /Root"), "application/pdf", "sealed with a password"),
    "a program": ("a.pdf", PDF.replace(b"/Pages", b"/Pages /S /JavaScript"), "application/pdf", "carries a program"),
    "a program, spelt": ("a.pdf", PDF.replace(b"/Pages", b"/S /J#61vaScript"), "application/pdf", "carries a program"),
    "a program, packed": ("a.pdf", packed(b"<</S /JavaScript /JS (x)>>"), "application/pdf", "carries a program"),
    "a starter": ("a.pdf", PDF.replace(b"/Pages", b"/Pages /S /Launch"), "application/pdf", "starts another program"),
    "a file inside": ("a.pdf", PDF.replace(b"/Pages", b"/EmbeddedFile"), "application/pdf", "another file inside"),
    "a book": ("a.pdf", PDF.replace(b"trailer", b"<</Type /Page>>" * 200), "application/pdf", "has 201 pages"),
    "an older header": ("a.pdf", PDF.replace(b"%PDF-1.4", b"%PDF-9.9"), "application/pdf", "does not begin"),
    "no end": ("a.pdf", PDF[:-7], "application/pdf", "ends too early"),
    "a packed part broken off": (
        "a.pdf", packed(b"<<>>" * 99).replace(b"\nendstream", b"")[:150] + b"\n%%EOF", "application/pdf", "looked through"
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", list(REFUSED))
def test_a_file_that_may_not_be_kept_is_refused_beside_its_field_and_nothing_is_booked(
    desk: Client, folder: Path, case: str
) -> None:
    name, content, declared, said = REFUSED[case]
    answer = take(desk, named(name, content, declared))
    assert answer.status_code == 422
    assert said in text(answer)
    assert 'id="id_made_file_say"' in answer.content.decode()
    assert "Hot cut hammer as drawn" in answer.content.decode()
    assert (Order.objects.count(), kept(folder)) == (0, [])


def test_a_picture_that_would_fill_the_memory_is_refused_before_it_is_drawn() -> None:
    out = io.BytesIO()
    Image.new("1", (8000, 6000)).save(out, "PNG")
    with pytest.raises(Invalid, match="8000 × 6000 points large"):
        files.look_at("a.png", "image/png", out.getvalue())
    assert len(out.getvalue()) < 50_000


def test_a_packed_pdf_that_is_harmless_is_kept() -> None:
    assert files.look_at("a.pdf", "application/pdf", packed(b"<</Type /Page>>")).kept_as.endswith(".pdf")


def test_an_order_refused_for_another_reason_leaves_no_file_behind(desk: Client, folder: Path) -> None:
    tool: Tool = makers.make_tool(code="CP-2", name="Cross peen 2 lb")
    makers.put_in(tool.item, 3)
    tool.item.__class__.objects.filter(pk=tool.item.pk).update(active=False)
    answer = take(desk, named("a.png", png()), item_0="CP-2", qty_0="1")
    assert answer.status_code in {409, 422}
    assert (Order.objects.count(), kept(folder)) == (0, [])


def test_an_order_that_breaks_off_leaves_no_file_behind(desk: Client, folder: Path, monkeypatch) -> None:
    def broken(*_args: object, **_facts: object) -> None:
        assert kept(folder), "the file is written before the order is whole"
        raise RuntimeError("power cut")

    monkeypatch.setattr("orders.services.ordering.give_day", broken)
    with pytest.raises(RuntimeError):
        take(desk, named("a.png", png()), day_given="2030-05-06")
    assert (Order.objects.count(), kept(folder)) == (0, [])


def test_a_file_without_words_or_with_an_item_is_refused(desk: Client, folder: Path) -> None:
    tool = makers.make_tool(code="CP-2", name="Cross peen 2 lb")
    makers.put_in(tool.item, 3)
    bare = take(desk, named("a.png", png()), made_words="", made_qty="", made_price="", item_0="CP-2", qty_0="1")
    assert "A file alone says too little" in text(bare)
    order = makers.make_order({tool.item: 1}, at=clock.now())
    form = forms(desk.get(f"/order/{order.number}/add"))[0]
    both = desk.post(
        f"/order/{order.number}/add", {**form.fields, "item": "CP-2", "qty": "1", "file": named("a.png", png())}
    )
    assert both.status_code == 422
    assert "A file goes with words" in text(both)
    assert kept(folder) == []


# ---- names


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("../../etc/passwd.png", "passwd.png"),
        ("C:\\drawings\\rev B.pdf", "rev B.pdf"),
        ("..\\..\\x.jpg", "x.jpg"),
        ("a\r\nSet-Cookie: x.png", "aSet-Cookie x.png"),
        ("\u202egnp.exe.png", "gnp.exe.png"),
        ('"><script>.png', "script.png"),
        ("Ständer.png", "Ständer.png"),
        (".png", "png"),
        ("", "file"),
        ("x" * 300 + ".png", "x" * 116 + ".png"),
    ],
)
def test_a_files_own_name_is_only_ever_shown(given: str, shown: str) -> None:
    assert files.name_for_people(given) == shown


def test_a_name_that_climbs_out_of_the_folder_does_not(desk: Client, folder: Path) -> None:
    assert take(desk, named("../../../outside.png", png())).status_code == 302
    line = OrderLine.objects.get()
    assert line.file_name == "outside.png"
    assert [path.name for path in folder.parent.rglob("*") if path.is_file()] == [line.file]


@pytest.mark.parametrize(
    "kept_as", ["../secret_key", "/etc/passwd", "a.png", "", "0" * 16 + "-" + "0" * 64 + ".png/.."]
)
def test_no_other_file_is_ever_read(folder: Path, kept_as: str) -> None:
    folder.mkdir()
    (folder / "a.png").write_bytes(png())
    with pytest.raises(NotFound):
        files.read(kept_as)


# ---- how much is sent


def test_more_than_a_form_may_hold_is_refused_before_it_is_read(desk: Client) -> None:
    huge = desk.post("/counter/take", b"x" * (settings.LARGEST_FORM + 1), content_type="application/octet-stream")
    assert (huge.status_code, huge.content) == (
        413,
        b"More than 21 MB were sent and nothing was kept; make the file smaller.\n",
    )
    stranger = Client().post("/login", b"x" * 1_000_001, content_type="application/octet-stream")
    assert stranger.status_code == 413

"""Files that come with an order, a delivery or a melt: looked through, drawn anew where they are pictures, kept under our own name.

A file is looked at before the transaction (`look_at`) and written inside it (`keep`), because a copy of the book must
find every file that a row names. `only_if_booked` takes it away again where nothing was booked.
"""

import contextlib
import hashlib
import io
import re
import secrets
import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from PIL import Image, ImageOps

from shop.shared.errors import Invalid, NotFound
from shop.shared.files import pdf

MOST_BYTES = 20 * 1000 * 1000
MOST_PIXELS = 40_000_000
MOST_PAGES = 200
LONGEST_NAME = 120
TYPES = {"pdf": "application/pdf", "jpg": "image/jpeg", "jpeg": "image/jpeg", "png": "image/png"}
_STARTS = {"pdf": b"%PDF-", "jpg": b"\xff\xd8\xff", "png": b"\x89PNG\r\n\x1a\n"}
_KEPT = re.compile(r"[0-9a-f]{16}-([0-9a-f]{64})\.(pdf|jpg|png)")
_UNREADABLE = (OSError, ValueError, SyntaxError, EOFError, struct.error, zlib.error, Image.DecompressionBombError)


@dataclass(frozen=True, slots=True)
class Kept:
    """A file that may be kept: the name for people, the name on the disk, and what is written there."""

    name: str
    kept_as: str
    content: bytes


def look_at(name: str, declared: str, content: bytes, *, field: str = "file") -> Kept:
    """Refuse what is no paper or photo; extension, declared type and first bytes must say the same."""
    shown = name_for_people(name)
    ending = shown.rpartition(".")[2].lower()
    kind = "jpg" if ending == "jpeg" else ending
    if kind not in _STARTS or "." not in shown:
        raise Invalid.field(field, f"“{shown}” is neither PDF, JPG nor PNG; save it as one of these.")
    if not content:
        raise Invalid.field(field, f"“{shown}” is empty; choose the file again.")
    if len(content) > MOST_BYTES:
        raise Invalid.field(field, f"“{shown}” is larger than 20 MB; make it smaller.")
    if declared.partition(";")[0].strip().lower() != TYPES[kind] or not content.startswith(_STARTS[kind]):
        raise Invalid.field(field, f"“{shown}” is not what its name says; save it anew as PDF, JPG or PNG.")
    if kind == "pdf":
        wrong = pdf.fault(content, most_pages=MOST_PAGES)
        if wrong:
            raise Invalid.field(field, f"“{shown}” {wrong}.")
    else:
        content = _drawn_anew(shown, content, kind, field)
    digest = hashlib.sha256(content).hexdigest()
    return Kept(shown, f"{secrets.token_hex(8)}-{digest}.{kind}", content)


def name_for_people(name: str) -> str:
    """Return the last part of a file's own name, only signs that can be printed; it is shown and never opened."""
    last = re.split(r"[/\\]", name)[-1]
    clean = "".join(sign for sign in last if sign.isprintable() and sign not in '<>:"|?*').strip(" .")
    stem, dot, ending = clean.rpartition(".")
    if not dot:
        return clean[:LONGEST_NAME] or "file"
    return f"{(stem or 'file')[: LONGEST_NAME - len(ending[:8]) - 1]}.{ending[:8]}"


def keep(file: Kept) -> None:
    """Write a file; its name has a random part, so that no other row ever shares it."""
    folder = Path(settings.MEDIA_ROOT)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with (folder / file.kept_as).open("xb") as out:
        out.write(file.content)
    (folder / file.kept_as).chmod(0o600)


@contextlib.contextmanager
def only_if_booked(file: Kept | None, named: Callable[[str], bool]) -> Iterator[None]:
    """Take the file away again where no row names it when the block ends; `named` looks whether one does."""
    try:
        yield
    finally:
        if file and not named(file.kept_as):
            (Path(settings.MEDIA_ROOT) / file.kept_as).unlink(missing_ok=True)


def read(kept_as: str) -> bytes:
    """Return a kept file, and only while its bytes are still those that were looked at."""
    named = _KEPT.fullmatch(kept_as)
    path = Path(settings.MEDIA_ROOT) / kept_as
    if not named or not path.is_file():
        raise NotFound("The file is not in the shop's folder any more; look in the last copy of the book.")
    content = path.read_bytes()
    if hashlib.sha256(content).hexdigest() != named[1]:
        raise NotFound("The file is not the one that was sent; look in the last copy of the book.")
    return content


def _drawn_anew(shown: str, content: bytes, kind: str, field: str) -> bytes:
    """Open a picture and write it anew: where it was taken and whatever hangs on it stay behind."""
    fmt = "PNG" if kind == "png" else "JPEG"
    out = io.BytesIO()
    try:
        with Image.open(io.BytesIO(content), formats=[fmt]) as picture:
            width, height = picture.size
            if width * height > MOST_PIXELS:
                raise Invalid.field(
                    field, f"“{shown}” is {width} × {height} points large; up to 40 million points would work."
                )
            _without_all_but_points(picture).save(out, fmt, **({"quality": 90} if kind == "jpg" else {}))
    except _UNREADABLE:
        raise Invalid.field(field, f"“{shown}” cannot be opened as a picture; save it anew as JPG or PNG.") from None
    if out.tell() > MOST_BYTES:
        raise Invalid.field(field, f"“{shown}” is larger than 20 MB; make it smaller.")
    return out.getvalue()


def _without_all_but_points(picture: Image.Image) -> Image.Image:
    """Return the picture the right way up, with nothing beside its points; a remark or profile would be saved again."""
    upright = ImageOps.exif_transpose(picture)
    mode = "RGBA" if upright.has_transparency_data else "L" if upright.mode in ("1", "L") else "RGB"
    plain = upright.convert("RGB" if picture.format == "JPEG" and mode == "RGBA" else mode)
    bare = Image.new(plain.mode, plain.size)
    bare.paste(plain)
    return bare

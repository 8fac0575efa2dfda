"""Small files to send: a paper, a picture, a photo as a telephone makes one."""

import io

from PIL import Image

PDF = b"%PDF-1.4\n1 0 obj<</Type /Pages>>endobj 2 0 obj<</Type /Page>>endobj\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF\n"


def pdf_of(size: int) -> bytes:
    """Return a paper of so many bytes: most of it stands in a remark, which readers pass over."""
    head, tail = PDF.split(b"trailer")
    return head + b"%" + b"a" * (size - len(PDF) - 2) + b"\ntrailer" + tail


def png() -> bytes:
    """Return a picture."""
    out = io.BytesIO()
    Image.new("RGB", (8, 6), (40, 30, 20)).save(out, "PNG")
    return out.getvalue()


def jpeg() -> bytes:
    """Return a photo with the place where it was taken."""
    out = io.BytesIO()
    facts = Image.Exif()
    facts.get_ifd(0x8825)[1] = "N"  # the place. Source: Exif 2.32, 4.6.6
    Image.new("RGB", (8, 4)).save(out, "JPEG", exif=facts, comment=b"from the telephone of nobody")
    return out.getvalue()

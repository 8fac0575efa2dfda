"""What a PDF says about itself, by its bytes: whether it is whole, sealed, or able to do more than be read."""

import re
import zlib

_FIRST = re.compile(rb"%PDF-(1\.[0-7]|2\.0)(?=[\r\n \t%])")
_LAST = b"%%EOF"
_LAST_WITHIN = 1024  # ISO 32000-1:2008, annex H, implementation note 18: readers look in the last 1 024 bytes
_STREAM = re.compile(rb"(?<!end)stream\r?\n")
_HEX = re.compile(rb"#([0-9A-Fa-f]{2})")
_NAME_ENDS = rb"(?=[\x00\t\n\f\r ()<>\[\]{}/%]|$)"
_PAGE = re.compile(rb"/Type\s*/Page" + _NAME_ENDS)
_MOST_UNPACKED = 64 * 1024 * 1024  # No source: shop practice, twenty times the objects of any drawing seen
_HEAD = 2048  # No source: shop practice, more than the head of any packed object written by a program

# What an order for a hammer has no use for. ISO 32000-1:2008: 7.6.1, 12.6.4.16, 12.6.4.5, 7.11.4.1, 12.7.8, 13.6.
_UNWANTED = {
    rb"/Encrypt": "is sealed with a password or rights; print it to a new PDF and send that",
    rb"/JavaScript": "carries a program; print it to a new PDF and send that",
    rb"/Launch": "starts another program; print it to a new PDF and send that",
    rb"/EmbeddedFiles?": "carries another file inside it; print it to a new PDF and send that",
}
_TESTS = [(re.compile(name + _NAME_ENDS), words) for name, words in _UNWANTED.items()]


def fault(content: bytes, *, most_pages: int) -> str:
    """Say why a PDF is not to be kept.

    Args:
        content: the whole file.
        most_pages: pages that are kept at the most, at least 1.

    Returns:
        How the sentence goes on after the file's name, or nothing where the file may be kept.

    Raises:
        ValueError: most_pages is less than 1.

    Source:
        ISO 32000-1:2008 (PDF 1.7): 7.5.2 header, 7.5.5 end of file, 7.3.5 names, 7.5.7 object streams.
    """
    if most_pages < 1:
        raise ValueError("most_pages must be at least 1")
    if not _FIRST.match(content):
        return "does not begin as a PDF does; save it as a PDF, JPG or PNG"
    if _LAST not in content[-_LAST_WITHIN:]:
        return "ends too early; send the whole of it"
    try:
        readable = _plain_names(content) + b"\n" + _plain_names(_packed_objects(content))
    except (zlib.error, ValueError):
        return "is put together in a way that cannot be looked through; print it to a new PDF and send that"
    for test, words in _TESTS:
        if test.search(readable):
            return words
    pages = len(_PAGE.findall(readable))
    if pages > most_pages:
        return f"has {pages} pages; up to {most_pages} would work"
    return ""


def _plain_names(content: bytes) -> bytes:
    """Write names as they are read: /J#61vaScript is /JavaScript."""
    return _HEX.sub(lambda found: bytes([int(found[1], 16)]), content)


def _packed_objects(content: bytes) -> bytes:
    """Return what stands in object streams, where names can hide from a search of the file."""
    unpacked = []
    left = _MOST_UNPACKED
    for found in _STREAM.finditer(content):
        start = content.rfind(b"obj", max(0, found.start() - _HEAD), found.start())
        head = _plain_names(content[start if start >= 0 else max(0, found.start() - _HEAD) : found.start()])
        if b"/ObjStm" not in head:
            continue
        if re.search(rb"/(?:Predictor|ASCIIHexDecode|ASCII85Decode|LZWDecode|RunLengthDecode|Crypt)", head):
            raise ValueError("an object stream is packed in an unusual way")
        if b"/FlateDecode" not in head:
            continue  # it stands in the file as it is and is searched with it
        inflate = zlib.decompressobj()
        unpacked.append(inflate.decompress(content[found.end() :], left))
        left -= len(unpacked[-1])
        if left <= 0 or not inflate.eof:
            raise ValueError("an object stream is too long or broken off")
    return b"\n".join(unpacked)

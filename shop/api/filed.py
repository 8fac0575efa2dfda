"""Files in the API: a body that is one, looked through before anything is booked; an answer that is one, to be saved."""

import hashlib
import logging
from dataclasses import dataclass

from django.http import HttpRequest
from django.utils.http import content_disposition_header

from shop.api import etags, parser, reading
from shop.shared import files
from shop.shared.errors import NotFound
from shop.shared.files import Kept
from shop.shared.once import Answer

KINDS = tuple(sorted(set(files.TYPES.values())))
ANY_FILE = {"type": "string", "format": "binary", "description": "At most 20 MB."}
NAME = reading.Parameter(
    "name",
    "What people call the file; it ends in .pdf, .jpg, .jpeg or .png as the kind of the body says.",
    required=True,
    longest=200,
    example="certificate 0A7731.pdf",
)
_log = logging.getLogger("bickern.api")


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that was sent: what may be kept of it, and the SHA-256 of the bytes as they came."""

    kept: Kept
    digest: str


@dataclass(frozen=True, slots=True)
class FileAnswer(Answer):
    """An answer whose body is a file."""

    content: bytes = b""


def read(request: HttpRequest, name: str) -> Sent:
    """Return the file that a request's body is; its kind, its name and its first bytes must say the same."""
    declared = request.META.get("CONTENT_TYPE", "").partition(";")[0].strip().lower()
    if declared not in KINDS:
        raise parser.NotJSON(f"The body must be one file: send it with Content-Type: {', '.join(KINDS)}.")
    sentence = "The file is larger than 20 MB; make it smaller."
    content = parser.whole(request, most=files.MOST_BYTES, sentence=sentence)
    if not content:
        raise parser.Malformed("The body is empty; send the bytes of the file.")
    return Sent(files.look_at(name, declared, content, field=""), hashlib.sha256(content).hexdigest())


def sha256(kept_as: str) -> str:
    """Return the SHA-256 of a kept file, which stands in its name."""
    return kept_as.partition("-")[2].partition(".")[0]


def reply_file(kept_as: str, name: str, what: str) -> FileAnswer:
    """Return a kept file as an answer, with what the pages send with it; `what` names it in the log where it is gone."""
    try:
        content = files.read(kept_as)
    except NotFound as gone:
        _log.error("%s: %s", what, gone.sentence)
        raise
    headers = {
        "Content-Type": files.TYPES[kept_as.rpartition(".")[2]],
        "Content-Disposition": content_disposition_header(as_attachment=True, filename=name) or "attachment",
        "Content-Security-Policy": "sandbox; default-src 'none'",
        "X-Content-Type-Options": "nosniff",
        "ETag": etags.of_version(sha256(kept_as)),
    }
    return FileAnswer(200, headers=headers, content=content)

"""Strong entity tags: of a version that every write raises, or of the bytes themselves."""

import hashlib
import re

from django.http import HttpRequest

from shop.api.refusals import BadHeader, VersionNeeded
from shop.shared.errors import Stale
from shop.shared.once import Answer

_TAG = re.compile(r'(W/)?"([\x21\x23-\x7e]*)"')
_LIST = re.compile(r'\s*(?:W/)?"[\x21\x23-\x7e]*"\s*(?:,\s*(?:W/)?"[\x21\x23-\x7e]*"\s*)*')


class ChangedSince(Stale):
    """It has changed since it was read."""

    code = "stale"


def of_version(version: int | str) -> str:
    """Return the strong tag of a version."""
    return f'"{version}"'


def of_bytes(body: str) -> str:
    """Return the strong tag of a body, for what has no version of its own."""
    return f'"{hashlib.sha256(body.encode()).hexdigest()[:32]}"'


def not_modified(request: HttpRequest, etag: str) -> bool:
    """Tell whether the caller already has this (If-None-Match, weak comparison, RFC 9110 section 13.1.2)."""
    header = request.META.get("HTTP_IF_NONE_MATCH")
    if header is None:
        return False
    if header.strip() == "*":
        return True
    opaque = etag.removeprefix("W/").strip('"')
    return any(match.group(2) == opaque for match in _TAG.finditer(header))


def needed(request: HttpRequest) -> tuple[str, ...] | None:
    """Return the tags of If-Match, None for “*”; refuse a request that names none (RFC 6585 section 3)."""
    header = request.META.get("HTTP_IF_MATCH")
    if header is None or not header.strip():
        raise VersionNeeded(
            "Name the version that was read: send its ETag, or “version” from the body in quotes, as If-Match."
        )
    if header.strip() == "*":
        return None
    if len(header) > 2000 or not _LIST.fullmatch(header):
        raise BadHeader("If-Match must be one or more tags in quotes, or *.")
    # Strong comparison: a weak tag never matches (RFC 9110 section 13.1.1).
    return tuple(match.group(2) for match in _TAG.finditer(header) if not match.group(1))


def check(tags: tuple[str, ...] | None, current: int | str) -> None:
    """Refuse where the version has moved on; called inside the transaction, under the row's lock."""
    if tags is not None and str(current) not in tags:
        raise ChangedSince(
            "It has changed since it was read; read it again and decide anew.", facts={"version": current}
        )


def check_read(tags: tuple[str, ...] | None, now: Answer, version: str) -> None:
    """Refuse where what the caller read is not what stands now: by the tag of the answer, or by “version” in it."""
    if tags is not None and not {version, now.headers["ETag"].strip('"')} & set(tags):
        raise ChangedSince(
            "It has changed since it was read; read it again and decide anew.", facts={"version": version}
        )

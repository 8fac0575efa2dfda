"""Reading a request's body and its key: shape, range and unknown names checked, everything wrong told at once."""

import hashlib
import json
import re
from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest

from shop.api import fields, parser
from shop.api.refusals import BadHeader
from shop.shared.errors import Invalid

_KEY = re.compile(r'"([\x21\x23-\x5b\x5d-\x7e]{16,128})"|([\x21\x23-\x7e]{16,128})')
_CODES = {"required": "missing", "null": "missing", "blank": "empty"}


def fingerprint(body: Any) -> str:
    """Return the SHA-256 of a body in one canonical spelling, so that spaces and the order of names do not matter."""
    text = json.dumps(body, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def request_key(request: HttpRequest) -> str:
    """Return the Idempotency-Key, in quotes or bare; refuse a request without one that can be used."""
    header = request.META.get("HTTP_IDEMPOTENCY_KEY")
    hint = "make a new one for every new request, 16 to 128 visible ASCII characters, and repeat it when you try again"
    if header is None or not header.strip():
        raise BadHeader(f"This request moves stock or files something and needs the header Idempotency-Key: {hint}.")
    match = _KEY.fullmatch(header.strip())
    if match is None:
        raise BadHeader(f"The header Idempotency-Key cannot be used: {hint}.")
    return match.group(1) or match.group(2)


def read(request: HttpRequest, kind: type[fields.Body] | None) -> Mapping[str, Any]:
    """Return the values of a body, each in its own type."""
    if kind is None:
        if request.method not in {"GET", "HEAD"} and request.META.get("CONTENT_LENGTH") not in {None, "", "0"}:
            raise parser.Malformed("This request takes no body; send it without one.")
        return {}
    serializer = kind(data=parser.read(request))
    if not serializer.is_valid():
        lines = _errors(serializer.errors)
        refusal = Invalid(lines[0]["message"] if len(lines) == 1 else f"{len(lines)} values cannot be used as sent.")
        refusal.errors = lines  # type: ignore[attr-defined]
        raise refusal
    values: Mapping[str, Any] = serializer.validated_data
    return values


def _errors(detail: Any, pointer: str = "") -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    waiting = [(pointer, detail)]
    while waiting:
        at, part = waiting.pop(0)
        if isinstance(part, Mapping):
            waiting += [(f"{at}{_step(name)}", value) for name, value in part.items()]
        elif isinstance(part, list):
            for value in part:
                if isinstance(value, Mapping | list):
                    waiting.append((at, value))
                else:
                    found.append(_error(at, value))
        else:
            found.append(_error(at, part))
    return found[:50]


def _step(name: Any) -> str:
    # Names that the caller made up are shown cut and printable.
    text = "".join(letter if letter.isprintable() else "?" for letter in str(name)[:60])
    return "" if name in ("", "non_field_errors") else "/" + text.replace("~", "~0").replace("/", "~1")


def _error(pointer: str, value: Any) -> dict[str, str]:
    code = getattr(value, "code", "invalid")
    message = {"required": "This is needed.", "null": "This is needed and cannot be null."}.get(code, str(value))
    return {"pointer": pointer, "code": _CODES.get(code, code), "message": message}

"""The parts of the description that every operation shares: the problem, the headers, the pieces of an address."""

from collections.abc import Mapping
from typing import Any

from shop.api import filed, refusals
from shop.api.parser import Malformed, NotJSON, TooLarge
from shop.shared.errors import Invalid, NotFound, Refusal, Stale

PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "What was refused and why (RFC 9457). Further members hold figures, such as available and requested.",
    "required": ["type", "title", "status", "detail", "request_id"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference", "description": "Leads to a page that explains the type."},
        "title": {"type": "string", "description": "The same for every problem of the type."},
        "status": {"type": "integer", "minimum": 400, "maximum": 599},
        "detail": {"type": "string", "description": "One sentence: what is wrong and what would work."},
        "request_id": {"type": "string", "description": "The X-Request-ID of the answer."},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["code", "message"],
                "properties": {
                    "pointer": {"type": "string", "description": "JSON Pointer into the body."},
                    "parameter": {"type": "string", "description": "Name of the query parameter."},
                    "code": {"type": "string"},
                    "message": {"type": "string"},
                },
            },
        },
    },
}

PROBLEMS: Mapping[int, type[Refusal]] = {
    400: Malformed,
    401: refusals.Unauthenticated,
    403: refusals.NotAllowed,
    404: NotFound,
    406: refusals.NotAcceptable,
    409: Refusal,
    412: Stale,
    413: TooLarge,
    415: NotJSON,
    422: Invalid,
    428: refusals.VersionNeeded,
    503: refusals.Busy,
}
SENTENCES: Mapping[int, str] = {
    400: "There is no parameter “itme” here; the nearest is “item”.",
    401: "Send a key of this shop as Authorization: Bearer bkn_….",
    403: "This key may not do this; it needs the scope orders:write.",
    404: "There is no item HAM-9LB; read the list of items.",
    406: "The answer is application/json; ask for it with Accept.",
    409: "Only 3 can be promised now; ask for 3 or let the rest wait.",
    412: "It has changed since it was read; read it again and decide anew.",
    413: "The body is larger than 1 MiB; send it in smaller parts.",
    415: "The body must be JSON: send it with Content-Type: application/json.",
    422: "2 values cannot be used as sent.",
    428: "Name the version that was read: send its ETag, or “version” from the body in quotes, as If-Match.",
    503: "The shop's database is busy; nothing was changed, send the same request again in a moment.",
}

FILE_CONTENT: Mapping[str, Any] = {kind: {"schema": filed.ANY_FILE} for kind in filed.KINDS}

HEADERS: Mapping[str, dict[str, Any]] = {
    "X-Request-ID": {"description": "The request's id, for questions.", "schema": {"type": "string"}},
    "ETag": {"description": "Strong tag of what was read.", "schema": {"type": "string"}},
    "Location": {"description": "Where it stands.", "schema": {"type": "string", "format": "uri-reference"}},
    "Content-Disposition": {"description": "To be saved, and under which name.", "schema": {"type": "string"}},
    "Link": {"description": "The next page, where there is one.", "schema": {"type": "string"}},
    "Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer"}},
    "Idempotency-Replayed": {
        "description": "true where the answer repeats an earlier one.",
        "schema": {"type": "string"},
    },
}

PATH_PARTS: Mapping[str, dict[str, Any]] = {
    "code": {"type": "string", "pattern": r"^[A-Z][A-Z0-9.\-]{0,29}$", "description": "Code of an item or lot."},
    "bar": {"type": "string", "pattern": r"^[2-9A-HJ-NP-Z]{1,4}$", "description": "Number of a bar."},
    "grade": {
        "type": "string",
        "pattern": r"^[A-Za-z0-9][A-Za-z0-9 ./+\-]{0,19}$",
        "description": "Code of a grade, however it is capitalised.",
    },
    "number": {"type": "integer", "minimum": 1, "maximum": 999999999, "description": "Its number."},
    "line": {"type": "integer", "minimum": 1, "maximum": 999999999, "description": "Number of the line."},
    "price": {"type": "integer", "minimum": 1, "maximum": 999999999, "description": "Id of a noted price."},
    "id": {"type": "integer", "minimum": 1, "maximum": 999999999999, "description": "Its id."},
    "day": {"type": "string", "format": "date", "description": "A day in the shop's zone."},
    "run": {
        "type": "string",
        "pattern": r"^[A-Z0-9][A-Z0-9.\-]{0,33}(\+(shelf)?[0-9]{1,4})?$",
        "description": "Code of a run, or of one still to be started: its item and number, CP2+1.",
    },
    "step": {"type": "integer", "minimum": 1, "maximum": 999999999, "description": "Number of the step of its route."},
}
PATH_EXAMPLES: Mapping[str, Any] = {
    "price": 9,
    "code": "HAM-2LB",
    "bar": "7KQ4",
    "grade": "1045",
    "number": 1042,
    "line": 1,
    "id": 17,
    "day": "2026-03-02",
    "run": "K7",
    "step": 2,
}

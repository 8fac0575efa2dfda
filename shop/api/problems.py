"""Every answer of 400 and above under /api is a problem (RFC 9457): one shape, one sentence, nothing of the inside."""

import datetime as dt
import json
import logging
import re
import uuid
from collections.abc import Mapping
from decimal import Decimal
from types import UnionType
from typing import Any

from django.core import exceptions
from django.db import DatabaseError, DataError, IntegrityError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, UnreadablePostError
from rest_framework import exceptions as framework

from shop.api import refusals
from shop.api.filed import FileAnswer
from shop.api.parser import Malformed, NotJSON, TooLarge
from shop.shared.errors import Refusal
from shop.shared.once import Answer

MEDIA_TYPE = "application/problem+json"
RETRY_SECONDS = 2
_log = logging.getLogger("bickern.api")
_REQUEST_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}")
_MEMBER = re.compile(r"[A-Za-z][A-Za-z0-9_]{2,}")
_NAMES = {
    "qty": "quantity",
    "ordered": "quantity",
    "deposit_minor": "deposit",
    "carriage_minor": "carriage",
    "minimum_minor": "minimum",
}
"""What a service calls a field: what the API calls it."""
_OWN_MEMBERS = frozenset({"type", "title", "status", "detail", "instance", "errors", "request_id"})


def request_id(request: HttpRequest) -> str:
    """Return the request's id: the one the caller sent where it can be used, else a new one, the same all along."""
    known = getattr(request, "request_id", None)
    if known is None:
        sent = request.META.get("HTTP_X_REQUEST_ID", "")
        known = sent if _REQUEST_ID.fullmatch(sent) else uuid.uuid4().hex
        request.request_id = known  # type: ignore[attr-defined]
    return str(known)


def title(kind: type[Refusal]) -> str:
    """Return the title of a problem type: the first line of its class, the same for every occurrence."""
    return (kind.__doc__ or "").strip().splitlines()[0].rstrip(".")


def kinds() -> dict[str, type[Refusal]]:
    """Return every problem type by its code; where a family shares a code, the class nearest the root names it."""
    found: dict[str, type[Refusal]] = {}
    waiting: list[type[Refusal]] = [Refusal]
    while waiting:
        kind = waiting.pop(0)
        found.setdefault(kind.code, kind)
        waiting.extend(sorted(kind.__subclasses__(), key=lambda made: made.__qualname__))
    return found


def render(refusal: Refusal, request: HttpRequest, headers: Mapping[str, str] | None = None) -> Answer:
    """Return a refusal as a problem document."""
    named = kinds().get(refusal.code, type(refusal))
    body: dict[str, Any] = {
        "type": refusals.PROBLEM_ADDRESS + refusal.code,
        "title": title(named),
        "status": refusal.status,
        "detail": refusal.sentence,
        "request_id": request_id(request),
    }
    lines = _lines(refusal)
    if lines:
        body["errors"] = lines
    body |= {
        name: _plain(value)
        for name, value in refusal.facts.items()
        if _MEMBER.fullmatch(name) and name not in _OWN_MEMBERS
    }
    made = {"Content-Type": MEDIA_TYPE, **(headers or {})}
    if "retry_after_seconds" in refusal.facts:
        made["Retry-After"] = str(refusal.facts["retry_after_seconds"])
    return Answer(refusal.status, json.dumps(body, ensure_ascii=False), made)


def respond(answer: Answer, request: HttpRequest) -> HttpResponse:
    """Return an answer as an HTTP response with the headers every answer of the API has."""
    content = answer.content if isinstance(answer, FileAnswer) else answer.body
    response = HttpResponse(content, status=answer.status, content_type=answer.headers.get("Content-Type"))
    for name, value in answer.headers.items():
        if name != "Content-Type":
            response[name] = value
    response["X-Request-ID"] = request_id(request)
    if "Cache-Control" not in response:
        response["Cache-Control"] = "private, no-store" if answer.status >= 400 else "private, no-cache"
    return response


def answer(problem: BaseException, request: HttpRequest) -> Answer:
    """Return the problem document for anything that was raised."""
    refusal = _as_refusal(problem)
    if refusal.status >= 500 and (refusal is not problem or "retry_after_seconds" not in refusal.facts):
        _log.error("%s %s failed, request %s", request.method, request.path, request_id(request), exc_info=problem)
    headers: dict[str, str] = {}
    if refusal.status == 401:
        headers["WWW-Authenticate"] = 'Bearer realm="bickern"'
    if isinstance(problem, framework.MethodNotAllowed | refusals.WrongMethod):
        headers["Allow"] = str(refusal.facts.get("allowed", ""))
    return render(refusal, request, headers)


def handle(problem: Exception, context: Mapping[str, Any]) -> HttpResponse:
    """Answer an exception of a view that the framework dispatches (its EXCEPTION_HANDLER setting)."""
    request = getattr(context["request"], "_request", context["request"])
    return respond(answer(problem, request), request)


_BY_STATUS: dict[int, tuple[type[Refusal], str]] = {
    400: (Malformed, "The request cannot be read; check its address, headers and length."),
    401: (refusals.Unauthenticated, "Send a key of this shop as Authorization: Bearer bkn_…."),
    403: (refusals.NotAllowed, "This key may not do this."),
    404: (refusals.NoSuchPage, "There is nothing at this address; the list of addresses is at /api/v1/docs."),
    405: (refusals.WrongMethod, "This address does not answer this method."),
    406: (refusals.NotAcceptable, "The answer is JSON; ask for it with Accept: application/json."),
    413: (TooLarge, "The body is larger than 1 MiB; send it in smaller parts."),
    415: (NotJSON, "The body must be JSON: send it with Content-Type: application/json."),
}
_STATUS_OF: tuple[tuple[type[BaseException] | UnionType, int], ...] = (
    (Http404, 404),
    (exceptions.RequestDataTooBig, 413),
    (exceptions.PermissionDenied, 403),
    (exceptions.SuspiciousOperation | UnreadablePostError, 400),
)


def _as_refusal(problem: BaseException) -> Refusal:
    if isinstance(problem, Refusal):
        return problem
    if isinstance(problem, framework.APIException) and problem.status_code < 500:
        kind, sentence = _BY_STATUS.get(problem.status_code, _BY_STATUS[400])
        return kind(sentence)
    for raised, status in _STATUS_OF:
        if isinstance(problem, raised):
            kind, sentence = _BY_STATUS[status]
            return kind(sentence)
    if isinstance(problem, DatabaseError):
        return _from_database(problem)
    if isinstance(problem, ValueError | OverflowError) and _from_the_query_layer(problem):
        return refusals.BadRequest("A value in the request is outside what the book can look up.")
    return refusals.Failure("The service failed and has noted it; nothing was changed by this request.")


def _from_database(problem: DatabaseError) -> Refusal:
    if isinstance(problem, IntegrityError):
        return refusals.Conflict("Something else was written in between that stands against this; read it anew.")
    if isinstance(problem, DataError):
        return refusals.BadRequest("A value in the request is outside what the book can look up.")
    if isinstance(problem, OperationalError):
        return refusals.Busy(
            "The shop's database is busy; nothing was changed, send the same request again in a moment.",
            facts={"retry_after_seconds": RETRY_SECONDS},
        )
    return refusals.Failure("The service failed and has noted it; nothing was changed by this request.")


def _from_the_query_layer(problem: BaseException) -> bool:
    # A ValueError of our own code is a mistake of ours (500); one raised while a value is handed to the database is
    # the caller's value.
    trace = problem.__traceback__
    module = ""
    while trace is not None:
        module = trace.tb_frame.f_globals.get("__name__", "")
        trace = trace.tb_next
    return module.startswith(("django.db.", "psycopg", "sqlite3"))


def _lines(refusal: Refusal) -> list[dict[str, str]]:
    given = getattr(refusal, "errors", None)
    if given is not None:
        return list(given)
    return [
        {"pointer": _pointer(name), "code": refusal.code, "message": sentence}
        for name, sentence in refusal.fields.items()
    ]


def _pointer(name: str) -> str:
    if name.startswith("/"):
        return name
    steps = [_NAMES.get(step, step).replace("~", "~0").replace("/", "~1") for step in name.split(".")] if name else []
    return "".join("/" + step for step in steps)


def _plain(value: object) -> Any:
    if isinstance(value, Mapping):
        return {str(name): _plain(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    return value if isinstance(value, bool | int | str) else None

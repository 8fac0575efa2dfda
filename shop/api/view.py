"""The one way an address of the API works: read once, one domain call in one transaction, write once."""

import contextlib
import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, NoReturn

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from rest_framework.views import APIView

from shop.access import roles
from shop.access.actor import Actor
from shop.api import csvs, etags, fields, keys, parser, problems, reading, refusals
from shop.api.snapshots import snapshot
from shop.shared import clock, once, transactions
from shop.shared.errors import Invalid, Refusal
from shop.shared.once import Answer

JSON = "application/json"
_KEY = re.compile(r'"([\x21\x23-\x5b\x5d-\x7e]{16,128})"|([\x21\x23-\x7e]{16,128})')
_HIDDEN_BY_KIND = {"required": "missing", "null": "missing", "blank": "empty"}


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer an operation can give, for the description: what it holds and an example of it."""

    words: str
    shape: Mapping[str, Any] | None = None
    example: Any = None
    headers: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Operation:
    """What one method of an address takes and gives; the reader, the checks and the description all follow it."""

    name: str
    summary: str
    tag: str
    replies: Mapping[int, Reply]
    words: str = ""
    query: Sequence[reading.Parameter] = ()
    body: type[fields.Body] | None = None
    example: Any = None
    refusals: Sequence[int] = ()
    once: bool = False
    match: bool = False
    csv: bool = False
    snapshot: bool = False


@dataclass(frozen=True, slots=True)
class Call:
    """One request, read: who asks, when, and every value in its own type."""

    request: HttpRequest
    at: Any
    client: keys.Client | None
    path: Mapping[str, Any]
    query: Mapping[str, Any] = field(default_factory=dict)
    body: Mapping[str, Any] = field(default_factory=dict)
    tags: tuple[str, ...] | None = None
    csv: bool = False

    @property
    def by(self) -> str:
        """Return how the book names whoever asks."""
        return self.client.name if self.client else "nobody"

    @property
    def actor(self) -> Actor:
        """Return the program as the one who acts in the book."""
        return Actor(None, self.by)

    def may(self, scope: str) -> bool:
        """Tell whether the key also has another scope."""
        return self.client is not None and scope in self.client.key.scopes


def reply(
    data: Any, *, status: int = 200, etag: str = "", location: str = "", headers: Mapping[str, str] | None = None
) -> Answer:
    """Return data as a JSON answer; without a tag of its own it gets the one of its bytes."""
    body = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    made = {"Content-Type": JSON, **(headers or {}), "ETag": etag or etags.of_bytes(body)}
    if location:
        made["Location"] = location
    return Answer(status, body, made)


def reply_csv(text: str, *, headers: Mapping[str, str] | None = None) -> Answer:
    """Return a table as a CSV answer."""
    return Answer(200, text, {"Content-Type": csvs.MEDIA_TYPE, **(headers or {}), "ETag": etags.of_bytes(text)})


def nothing() -> Answer:
    """Return the answer without a body."""
    return Answer(204)


class Endpoint(APIView):
    """An address of the API; a subclass declares its operations and has one method for each.

    The framework's own dispatch is replaced: it parses lazily, answers in several shapes and costs more than the
    query. What is kept of it is the view class that the description is made from.
    """

    operations: ClassVar[Mapping[str, Operation]] = {}

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer a request; whatever happens, the answer has the API's shape."""
        try:
            answer = self._answer(request, kwargs)
        except Exception as problem:  # noqa: BLE001 - the edge: every failure becomes a problem document, and 500s are logged there
            answer = problems.answer(problem, request)
        return _deliver(answer, request)

    def _answer(self, request: HttpRequest, path: Mapping[str, Any]) -> Answer:
        method = "GET" if request.method == "HEAD" else str(request.method)
        if method == "OPTIONS":
            return Answer(204, headers={"Allow": self._allowed()})
        operation = self.operations.get(method)
        if operation is None:
            self._refuse_method(method)
        at = clock.now()
        who = self._let_in(request, method, at)
        call = Call(
            request=request,
            at=at,
            client=who,
            path=path,
            csv=_wants_csv(request, operation),
            query=reading.read(request.GET, operation.query),
            body=_body(request, operation),
            tags=etags.needed(request) if operation.match else None,
        )
        handler: Callable[[Call], Answer] = getattr(self, method.lower())
        if method == "GET":
            with snapshot() if operation.snapshot else contextlib.nullcontext():
                return handler(call)
        with transactions.entry_point():
            if not operation.once:
                return handler(call)
            return _once(call, lambda: handler(call), self.refused)

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Write down what a refusal means, in the transaction that keeps it; most mean nothing more."""

    def _let_in(self, request: HttpRequest, method: str, at: Any) -> keys.Client | None:
        match = request.resolver_match
        name = match.view_name if match else ""
        if roles.scope_of(name, method) == roles.OPEN:
            return None
        who = keys.client(request, at=at)
        keys.check_scope(who, name, method)
        return who

    def _allowed(self) -> str:
        names = [*self.operations, "OPTIONS"] + (["HEAD"] if "GET" in self.operations else [])
        return ", ".join(sorted(names))

    def _refuse_method(self, method: str) -> NoReturn:
        allowed = self._allowed()
        raise refusals.WrongMethod(
            f"This address does not answer {method[:20]}; it answers {allowed}."
            if method.isalpha()
            else f"This address does not answer this method; it answers {allowed}.",
            facts={"allowed": allowed},
        )


def _once(call: Call, action: Callable[[], Answer], note: Callable[[Call, Refusal], None]) -> Answer:
    request = call.request

    def told(refusal: Refusal) -> Answer:
        note(call, refusal)
        return problems.answer(refusal, request)

    return once.run(
        client=call.by,
        method=str(request.method),
        path=request.path,
        key=_request_key(request),
        fingerprint=fingerprint(call.body),
        at=call.at,
        action=action,
        refused=told,
    )


def fingerprint(body: Any) -> str:
    """Return the SHA-256 of a body in one canonical spelling, so that spaces and the order of names do not matter."""
    text = json.dumps(body, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def _request_key(request: HttpRequest) -> str:
    header = request.META.get("HTTP_IDEMPOTENCY_KEY")
    hint = "make a new one for every new request, 16 to 128 visible ASCII characters, and repeat it when you try again"
    if header is None or not header.strip():
        raise refusals.BadHeader(f"This request moves stock and needs the header Idempotency-Key: {hint}.")
    match = _KEY.fullmatch(header.strip())
    if match is None:
        raise refusals.BadHeader(f"The header Idempotency-Key cannot be used: {hint}.")
    return match.group(1) or match.group(2)


def _body(request: HttpRequest, operation: Operation) -> Mapping[str, Any]:
    if operation.once:
        _request_key(request)
    if operation.body is None:
        if request.method not in {"GET", "HEAD"} and request.META.get("CONTENT_LENGTH") not in {None, "", "0"}:
            raise parser.Malformed("This request takes no body; send it without one.")
        return {}
    serializer = operation.body(data=parser.read(request))
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
    return {"pointer": pointer, "code": _HIDDEN_BY_KIND.get(code, code), "message": message}


def _wants_csv(request: HttpRequest, operation: Operation) -> bool:
    accept = request.META.get("HTTP_ACCEPT", "")
    if not accept or accept == JSON or "*/*" in accept:
        return False
    offered = [(kind, quality) for kind, quality in map(_accepted, accept[:2000].split(",")) if quality > 0]
    names = {kind for kind, _ in offered}
    if names & {JSON, "application/*", "application/problem+json"}:
        json_quality = max(quality for kind, quality in offered if kind.startswith("application/"))
        csv_quality = max((quality for kind, quality in offered if kind in {"text/csv", "text/*"}), default=0.0)
        return operation.csv and csv_quality > json_quality
    if operation.csv and names & {"text/csv", "text/*"}:
        return True
    forms = "application/json or text/csv" if operation.csv else "application/json"
    raise refusals.NotAcceptable(f"The answer is {forms}; ask for it with Accept.")


def _accepted(part: str) -> tuple[str, float]:
    kind, *rest = (piece.strip().lower() for piece in part.split(";"))
    quality = next((piece[2:] for piece in rest if piece.startswith("q=")), "1")
    return kind, float(quality) if re.fullmatch(r"[01](\.[0-9]{0,3})?", quality) else 0.0


def _deliver(answer: Answer, request: HttpRequest) -> HttpResponse:
    etag = answer.headers.get("ETag", "")
    if etag and answer.status == 200 and request.method in {"GET", "HEAD"} and etags.not_modified(request, etag):
        kept = {name: answer.headers[name] for name in ("ETag", "Link") if name in answer.headers}
        answer = Answer(304, "", kept)
    response = problems.respond(answer, request)
    response["Vary"] = "Accept, Authorization"
    if answer.status in {204, 304} and "Content-Type" in response:
        del response["Content-Type"]
    return response


__all__ = [
    "Answer",
    "Call",
    "Endpoint",
    "Operation",
    "Refusal",
    "Reply",
    "fingerprint",
    "nothing",
    "reply",
    "reply_csv",
]

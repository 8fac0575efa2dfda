"""The one way an address of the API works: read once, one domain call in one transaction, write once."""

import contextlib
import json
from collections.abc import Callable, Mapping
from typing import Any, ClassVar, NoReturn

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from rest_framework.views import APIView

from shop.access import roles
from shop.api import accepting, bodies, etags, filed, keys, problems, reading, refusals
from shop.api.operation import Call, Operation, Reply
from shop.api.snapshots import snapshot
from shop.shared import clock, csvs, files, once, transactions
from shop.shared.errors import Refusal
from shop.shared.once import Answer


def reply(
    data: Any, *, status: int = 200, etag: str = "", location: str = "", headers: Mapping[str, str] | None = None
) -> Answer:
    """Return data as a JSON answer; without a tag of its own it gets the one of its bytes."""
    body = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    made = {"Content-Type": accepting.JSON, **(headers or {}), "ETag": etag or etags.of_bytes(body)}
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
        call = _read(request, operation, at=at, client=who, path=path)
        handler: Callable[[Call], Answer] = getattr(self, method.lower())
        if method == "GET":
            with snapshot() if operation.snapshot else contextlib.nullcontext():
                return handler(call)
        with _booked(call, operation), transactions.entry_point():
            told = _once(call, lambda: handler(call), self.refused) if operation.once else handler(call)
        return self.finish(call, told)

    def finish(self, call: Call, told: Answer) -> Answer:
        """Return what is sent for an answer, after its transaction: also for one that a key repeats.

        Work too long for a transaction goes here. It must bear being repeated, as the key keeps the answer before it.
        """
        return told

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
        key=bodies.request_key(request),
        fingerprint=call.fingerprint,
        at=call.at,
        action=action,
        refused=told,
    )


def _read(request: HttpRequest, operation: Operation, **known: Any) -> Call:
    """Read a request; a file in its body is looked through here, while no transaction is open."""
    csv = False
    if operation.gives_file:
        accepting.check_file(request, filed.KINDS)
    else:
        csv = accepting.wants_csv(request, offered=operation.csv)
    query = reading.read(request.GET, operation.query)
    if operation.once:
        bodies.request_key(request)
    sent = filed.read(request, query["name"]) if operation.file else None
    body = {} if sent else bodies.read(request, operation.body)
    tags = etags.needed(request) if operation.match else None
    return Call(request=request, csv=csv, query=query, body=body, sent=sent, tags=tags, **known)


def _booked(call: Call, operation: Operation) -> contextlib.AbstractContextManager[None]:
    if call.sent is None or operation.file is None:
        return contextlib.nullcontext()
    return files.only_if_booked(call.sent.kept, operation.file)


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


__all__ = ["Answer", "Call", "Endpoint", "Operation", "Reply", "nothing", "reply", "reply_csv"]

"""Answers for what never reaches a view: unknown addresses, a bad host, a failure outside; problems under /api."""

from django.core.exceptions import SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.html import format_html

from shop.api import problems, refusals
from shop.shared.errors import Refusal


def concerns(request: HttpRequest) -> bool:
    """Tell whether an address belongs to the API, so that the pages' own answers stay out of it."""
    return request.path.startswith("/api/") or request.path == "/api"


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 400."""
    return _answer(request, exception if isinstance(exception, SuspiciousOperation) else SuspiciousOperation())


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 404."""
    return _answer(request, Http404())


def failed(request: HttpRequest) -> HttpResponse:
    """Answer 500."""
    return _answer(request, refusals.Failure("The service failed and has noted it."))


def explain(request: HttpRequest, code: str) -> HttpResponse:
    """Show the page that a problem's type leads to."""
    kind = problems.kinds().get(code)
    if kind is None:
        return not_found(request, Http404())
    rest = " ".join((kind.__doc__ or "").split())
    page = format_html(
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>{title}</title>'
        "<h1>{title}</h1><p>{rest}</p><p>{after}</p>"
        "<dl><dt>Code</dt><dd>{code}</dd><dt>Status</dt><dd>{status}</dd></dl>"
        '<p><a href="/api/v1/docs">All addresses of the API</a></p></html>\n',
        title=problems.title(kind),
        rest=rest,
        after=_after(kind),
        code=kind.code,
        status=kind.status,
    )
    return HttpResponse(page)


def _after(kind: type[Refusal]) -> str:
    if kind.status >= 500:
        return "Nothing was changed. The same request, with the same Idempotency-Key, may be sent again."
    return "Nothing was changed. The sentence in “detail” says what is wrong in this case and what would work."


def _answer(request: HttpRequest, problem: Exception) -> HttpResponse:
    return problems.respond(problems.answer(problem, request), request)

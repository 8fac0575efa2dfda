"""The description of the API as a file and as a page to try it on; both come from this server alone."""

from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.utils.html import format_html
from django.views.decorators.http import require_safe

from shop.api import describe, etags

_SCRIPT = """"use strict";
window.addEventListener("DOMContentLoaded", () => {
  SwaggerUIBundle({ url: "/api/v1/openapi.json", dom_id: "#page", deepLinking: true, validatorUrl: null });
});
"""


@require_safe
def description(request: HttpRequest) -> HttpResponse:
    """Return the description as it is kept beside the code; a test holds the two together."""
    text = describe.FILE.read_text(encoding="utf-8")
    etag = etags.of_bytes(text)
    unchanged = etags.not_modified(request, etag)
    response = HttpResponse(status=304) if unchanged else HttpResponse(text, content_type="application/json")
    response["ETag"] = etag
    response["Cache-Control"] = "public, max-age=300"
    return response


@require_safe
def script(request: HttpRequest) -> HttpResponse:
    """Return the few lines that start the page."""
    return HttpResponse(_SCRIPT, content_type="text/javascript; charset=utf-8")


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """Show the description as a page."""
    base = "drf_spectacular_sidecar/swagger-ui-dist"
    body = format_html(
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Bickern: the API</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<link rel="icon" href="data:,"><link rel="stylesheet" href="{css}"></head><body><div id="page"></div>'
        '<script src="{bundle}"></script><script src="/api/v1/docs.js"></script></body></html>\n',
        css=static(f"{base}/swagger-ui.css"),
        bundle=static(f"{base}/swagger-ui-bundle.js"),
    )
    return HttpResponse(body)

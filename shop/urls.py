"""Addresses of the service."""

from django.http import HttpRequest, HttpResponse
from django.urls import include, path
from django.views import defaults

from shop.api import feeds, handlers


def livez(_request: HttpRequest) -> HttpResponse:
    """Answer that the process is up; touches nothing else."""
    return HttpResponse("up\n", content_type="text/plain; charset=utf-8")


urlpatterns = [
    path("livez", livez, name="livez"),
    path("", include("shop.staff.urls")),
    path("api/v1/", include("shop.api.urls", namespace="api")),
    path("feed/<path:rest>", feeds.table, name="feed"),
]


def handler400(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that cannot be read."""
    return (
        handlers.bad_request(request, exception)
        if handlers.concerns(request)
        else defaults.bad_request(request, exception)
    )


def handler404(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address that leads nowhere."""
    return (
        handlers.not_found(request, exception)
        if handlers.concerns(request)
        else defaults.page_not_found(request, exception)
    )


def handler500(request: HttpRequest) -> HttpResponse:
    """Answer a failure."""
    return handlers.failed(request) if handlers.concerns(request) else defaults.server_error(request)

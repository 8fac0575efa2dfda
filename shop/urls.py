"""Addresses of the service."""

from django.http import HttpRequest, HttpResponse
from django.urls import path


def livez(request: HttpRequest) -> HttpResponse:
    """Answer that the process is up; touches nothing else."""
    return HttpResponse("up\n", content_type="text/plain; charset=utf-8")


urlpatterns = [path("livez", livez, name="livez")]

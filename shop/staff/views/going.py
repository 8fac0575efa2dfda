"""Where a browser may be sent on to: only addresses of this shop."""

from django.http import HttpRequest, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme

HOME = "/"


def wanted(request: HttpRequest) -> str:
    """Return the address that was asked for before the door, or nothing where it is not of this shop."""
    address = request.POST.get("next") or request.GET.get("next") or ""
    own = address.startswith("/") and url_has_allowed_host_and_scheme(
        address, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return address if own else ""


def on(request: HttpRequest) -> HttpResponseRedirect:
    """Send the browser on to what was asked for, or to the first page."""
    return HttpResponseRedirect(wanted(request) or HOME)

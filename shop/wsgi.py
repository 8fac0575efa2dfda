"""The WSGI entry that the web server loads."""

import os
from collections.abc import Callable, Iterable
from typing import Any

from django.core.wsgi import get_wsgi_application

from shop.access import dead_connections

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings.base")

_django = get_wsgi_application()


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    """Answer a request."""
    dead_connections.notice()
    return _django(environ, start_response)

"""Handing out a file that came from outside: to be saved, never to be shown as a page of ours."""

import logging

from django.http import HttpResponse
from django.utils.http import content_disposition_header

from shop.access.middleware import Here
from shop.shared import files
from shop.shared.errors import NotFound
from shop.staff import posting

_log = logging.getLogger("shop.staff")


def kept_file(here: Here, kept_as: str, name: str, what: str) -> HttpResponse:
    """Return a kept file under the name people know it by; `what` names it in the log where it is gone."""
    try:
        content = files.read(kept_as)
    except NotFound as gone:
        _log.error("%s: %s", what, gone.sentence)
        return posting.not_there(here)
    answer = HttpResponse(content, content_type=files.TYPES[kept_as.rpartition(".")[2]])
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
    answer["Content-Security-Policy"] = "sandbox; default-src 'none'"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer

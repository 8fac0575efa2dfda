"""Which form of the answer a request asks for: JSON, or a table where there is one."""

import re
from collections.abc import Sequence

from django.http import HttpRequest

from shop.api.refusals import NotAcceptable

JSON = "application/json"


def wants_csv(request: HttpRequest, *, offered: bool) -> bool:
    """Tell whether the table is asked for; refuse a form that is not given here."""
    accept = request.META.get("HTTP_ACCEPT", "")
    if not accept or accept == JSON or "*/*" in accept:
        return False
    asked = [(kind, quality) for kind, quality in map(_accepted, accept[:2000].split(",")) if quality > 0]
    names = {kind for kind, _ in asked}
    if names & {JSON, "application/*", "application/problem+json"}:
        json_quality = max(quality for kind, quality in asked if kind.startswith("application/"))
        csv_quality = max((quality for kind, quality in asked if kind in {"text/csv", "text/*"}), default=0.0)
        return offered and csv_quality > json_quality
    if offered and names & {"text/csv", "text/*"}:
        return True
    forms = "application/json or text/csv" if offered else "application/json"
    raise NotAcceptable(f"The answer is {forms}; ask for it with Accept.")


def check_file(request: HttpRequest, kinds: Sequence[str]) -> None:
    """Refuse a request for a file that takes none of the kinds there are."""
    accept = request.META.get("HTTP_ACCEPT", "")
    names = {kind for kind, quality in map(_accepted, accept[:2000].split(",")) if quality > 0}
    if accept and not names & {*kinds, *(f"{kind.partition('/')[0]}/*" for kind in kinds), "*/*"}:
        raise NotAcceptable(f"The answer is a file, one of {', '.join(kinds)}; ask for it with Accept.")


def _accepted(part: str) -> tuple[str, float]:
    kind, *rest = (piece.strip().lower() for piece in part.split(";"))
    quality = next((piece[2:] for piece in rest if piece.startswith("q=")), "1")
    return kind, float(quality) if re.fullmatch(r"[01](\.[0-9]{0,3})?", quality) else 0.0

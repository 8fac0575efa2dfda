"""Pages of a list by keyset: a signed, opaque mark of the last row, never a row count and never an offset."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.core import signing
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest

from shop.api import reading
from shop.api.refusals import BadParameters

Row = TypeVar("Row", bound=Model)
_signer = signing.Signer(salt="bickern.cursor")
PARAMETERS = tuple(reading.Paging().parameters)


@dataclass(frozen=True, slots=True)
class Page(Generic[Row]):
    """The rows of one page and the address of the next, where there is one."""

    rows: Sequence[Row]
    next: str | None

    @property
    def headers(self) -> dict[str, str]:
        """Return the Link header that names the next page."""
        return {"Link": f'<{self.next}>; rel="next"'} if self.next else {}


def page(
    rows: "QuerySet[Row]", request: HttpRequest, query: dict[str, Any], *, by: str, descending: bool = False
) -> Page[Row]:
    """Return one page of rows ordered by a column and then by id, which settles equal values."""
    sign = "-" if descending else ""
    binding = _binding(request, query)
    ordered = rows.order_by(f"{sign}{by}", f"{sign}pk") if by != "pk" else rows.order_by(f"{sign}pk")
    if query["cursor"] is not None:
        ordered = ordered.filter(_after(by, *_open(query["cursor"], binding), descending=descending))
    found = list(ordered[: query["limit"] + 1])
    if len(found) <= query["limit"]:
        return Page(found, None)
    kept = found[: query["limit"]]
    last = kept[-1]
    cursor = _signer.sign_object([_packed(getattr(last, by)), last.pk, binding])
    parameters = request.GET.copy()
    parameters["cursor"] = cursor
    return Page(kept, f"{request.path}?{parameters.urlencode()}")


def _after(by: str, value: Any, pk: int, *, descending: bool) -> Q:
    way = "lt" if descending else "gt"
    if by == "pk":
        return Q(**{f"pk__{way}": pk})
    # The first condition is implied by the second; it is there for the index.
    return Q(**{f"{by}__{way}e": value}) & (Q(**{f"{by}__{way}": value}) | Q(**{f"pk__{way}": pk}))


def _binding(request: HttpRequest, query: dict[str, Any]) -> str:
    # A mark belongs to its list with its filters; carried to another one it would skip rows without a word.
    told = sorted((name, str(value)) for name, value in query.items() if name not in {"cursor", "limit"})
    return hashlib.sha256(repr((request.path, told)).encode()).hexdigest()[:12]


def _open(cursor: str, binding: str) -> tuple[Any, int]:
    try:
        value, pk, bound = _signer.unsign_object(cursor)
    except (signing.BadSignature, ValueError, TypeError):
        bound = None
    if bound != binding:
        refusal = BadParameters("“cursor” does not belong to this list; take it from “next” and change nothing.")
        refusal.errors = [  # type: ignore[attr-defined]
            {"parameter": "cursor", "code": "unusable", "message": refusal.sentence}
        ]
        raise refusal
    return _unpacked(value), pk


def _packed(value: Any) -> Any:
    return {"at": value.isoformat()} if isinstance(value, dt.datetime) else value


def _unpacked(value: Any) -> Any:
    return dt.datetime.fromisoformat(value["at"]) if isinstance(value, dict) else value

"""The seconds: what may be sold at a lower grade, of which run, and what was wrong with it."""

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse

from inventory.models import CountReject, Holding, Lot, Place
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled


def seconds(request: HttpRequest) -> HttpResponse:
    """List the seconds in the shop."""
    here = posting.here_of(request)
    there = Holding.objects.filter(place__kind=Place.Kind.SECONDS, on_hand__gt=0).select_related("item", "lot__run")
    rows = list(there.order_by("item__code", "lot_id"))
    why = _why([one.lot for one in rows])
    columns = [Column("what"), Column("pieces", figures=True), Column("lot"), Column("run"), Column("because of")]
    table = [
        [
            one.item.name,
            wording.figures(one.on_hand),
            one.lot.code,
            one.lot.run.code if one.lot.run else "",
            why.get(one.lot.run_id or 0, ""),
        ]
        for one in rows
    ]
    return posting.sheet(here, "staff/shelf/seconds.html", "shelf", {"table": Ruled("Seconds", columns, table)})


def _why(lots: Sequence[Lot]) -> dict[int, str]:
    """Return for each run the causes for which pieces of it became seconds."""
    rejects = CountReject.objects.filter(
        fate=CountReject.Fate.SECOND, count__run__in={lot.run_id for lot in lots if lot.run_id},
        count__entry__reversed_by=None,
    )  # fmt: skip
    found: dict[int, list[str]] = {}
    for run, cause, qty in rejects.order_by("pk").values_list("count__run_id", "cause__name", "qty"):
        found.setdefault(run, []).append(f"{cause or 'not known yet'} ({qty})")
    return {run: ", ".join(said) for run, said in found.items()}

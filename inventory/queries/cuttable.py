"""Whether a bar may be cut, and in words why not."""

from collections.abc import Iterable

from inventory.models import Bar, Certificate, CutPlanBar, DeliveryLine, Holding, Melt, Place
from shop.shared import shop_row

UNKNOWN_GRADE = "UNKNOWN"
NOT_GOOD = (Certificate.Finding.FAIL,)


def why_not(bar: Bar, *, own_use_only: bool = False) -> str:
    """Return why a bar must not be cut; nothing where it may. Own tooling may be of steel nobody can name."""
    holding = Holding.objects.filter(lot_id=bar.pk, on_hand__gt=0).select_related("place").first()
    if holding is None:
        return f"Nothing of bar {bar.number} is left in the shop; look in the Book what became of it."
    return _where_it_stands(bar, holding) or ("" if own_use_only else _what_it_is(bar))


def _where_it_stands(bar: Bar, holding: Holding) -> str:
    kind = holding.place.kind
    if kind == Place.Kind.NOT_TO_BE_USED:
        return f"Bar {bar.number} is not to be used; the owner decides what becomes of it."
    if not bar.measured or kind == Place.Kind.DOOR:
        return f"Bar {bar.number} was not checked yet; tape it at the Door first."
    if kind != Place.Kind.RACK:
        return f"Bar {bar.number} is at {holding.place.name}; bring it back to the rack first."
    if not holding.allocated:
        return ""
    plan = in_plan([bar.pk]).get(bar.pk)
    return (
        f"Bar {bar.number} is in cut plan {plan}; saw it from there, or drop the plan."
        if plan
        else (f"Bar {bar.number} is set aside; let it go first.")
    )


def in_plan(bars: Iterable[int]) -> dict[int, int]:
    """Return the bars among these (by lot) that wait for the saw, and the number of their cut plan."""
    waiting = CutPlanBar.objects.filter(bar__in=list(bars), state=CutPlanBar.State.TO_SAW)
    return dict(waiting.values_list("bar_id", "plan__number"))


def _what_it_is(bar: Bar) -> str:
    if bar.lot.item.grade and bar.lot.item.grade.code == UNKNOWN_GRADE:
        return f"Nobody knows the grade of bar {bar.number}; it serves for own tooling only."
    said = melts_held([bar.lot.melt_id] if bar.lot.melt_id else []).get(bar.lot.melt_id or 0, "")
    return f"Bar {bar.number}: {said}" if said else ""


def melts_held(melt_ids: Iterable[int]) -> dict[int, str]:
    """Return the melts among these that must not be sawn because of their papers, and why."""
    ids = set(melt_ids)
    held: dict[int, str] = {}
    standing = Certificate.objects.filter(melt__in=ids, withdrawn_at=None).order_by("id")
    newest = dict(standing.values_list("melt_id", "finding"))  # the last one of a melt stays
    failed = {melt_id for melt_id, finding in newest.items() if finding in NOT_GOOD}
    noted = DeliveryLine.objects.filter(melt__in=failed, answer="accepted with a note")
    for melt_id in failed - set(noted.values_list("melt_id", flat=True)):
        held[melt_id] = "its certificate is outside the limits; accept it with a note, or take it out of use."
    if not shop_row.the_shop().saw_before_certificate:
        for melt_id in Melt.objects.filter(pk__in=ids, certificate_awaited=True).values_list("pk", flat=True):
            held.setdefault(melt_id, "its certificate has not come yet, and this shop saws nothing before it.")
    return held

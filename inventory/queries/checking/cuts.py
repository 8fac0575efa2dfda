"""Cuts: what the saw is said to have done agrees with the movements of its entry."""

from collections import defaultdict
from collections.abc import Iterator

from inventory.models import Cut, CutPiece, Movement
from inventory.queries.checking.span import CHUNK, Span

_PLACES = {
    "own_nm": "own use",
    "kerfs_nm": "swarf and scale",
    "difference_nm": "count difference",
}


def differences(span: Span) -> Iterator[str]:
    """Yield every cut whose figures are not those of its movements."""
    cuts = Cut.objects.filter(entry_id__gte=span.first_entry).select_related("bar__lot").order_by("pk")
    for cut in cuts.iterator(CHUNK):
        booked = _booked(cut)
        for name, qty in booked.items():
            if getattr(cut, name) != qty:
                word = name.removesuffix("_nm").replace("_", " ")
                yield f"Cut {cut.pk} of bar {cut.bar.number} says {getattr(cut, name)} of {word}, entry {cut.entry_id} {qty}."
        yield from _kinds(cut)


def _kinds(cut: Cut) -> Iterator[str]:
    """Compare the blanks of each kind with the lots that the entry made, and their lengths with the cut's."""
    kinds = list(CutPiece.objects.filter(cut=cut).order_by("pk").values_list("pk", "blank_id", "count", "piece_nm"))
    for pk, blank, count, _ in kinds:
        made = _made(cut, blank)
        if made != count:
            yield f"Cut piece {pk} of bar {cut.bar.number} says {count}; entry {cut.entry_id} made {made}."
    whole = sum(count * nm for _, _, count, nm in kinds)
    if whole != cut.pieces_nm:
        named = ", ".join(str(pk) for pk, *_ in kinds) or "none"
        yield f"Cut {cut.pk} of bar {cut.bar.number} says {cut.pieces_nm} of pieces, its cut pieces ({named}) {whole}."


def _made(cut: Cut, blank: int) -> int:
    born = Movement.objects.filter(entry=cut.entry_id, item=blank, from_place__kind="worked up")
    return sum(born.values_list("qty", flat=True))


def _booked(cut: Cut) -> dict[str, int]:
    """Return what the entry of a cut moved, under the names of the cut's columns."""
    found: dict[str, int] = defaultdict(int)
    lines = Movement.objects.filter(entry=cut.entry_id).values_list(
        "lot_id", "item_id", "qty", "from_place__kind", "to_place__kind"
    )
    for lot, item, qty, source, target in lines:
        sign = -1 if source == "count difference" else 1
        if lot == cut.bar_id:
            found[target if sign > 0 else source] += sign * qty
        elif source == "worked up":
            found["remnants" if item == cut.bar.lot.item_id else "pieces"] += qty
    return {
        **{name: found[kind] for name, kind in _PLACES.items()},
        "remnant_nm": found["remnants"],
        "pieces": found["pieces"],
        "pieces_nm": found["worked up"] - found["remnants"],
        "taken_nm": sum(found[kind] for kind in ("worked up", "scrap", *_PLACES.values())),
    }

"""What goes into what, and how much of it for one that comes good: from tools down to bars."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Sum

from inventory.models import CountReject, HandleSort, Item, RecipePart, RunCount, Step
from inventory.queries import learned
from inventory.queries.along import Walk
from orders.queries.shop_state import reached

FIREWOOD: Final = (5, 50)  # of so many handles as bought so many are no good, believed at first. No source
SPLIT: Final = (1, 50)  # of so many hafted so many split, believed at first. No source


@dataclass(frozen=True, slots=True)
class Goes:
    """So many units of a part go into one whole of an item, with what is lost on the way."""

    whole: int
    part: int
    per: float


@dataclass(frozen=True, slots=True)
class Structure:
    """Items by number, and what goes into what, the wholes before their parts."""

    items: Mapping[int, Item]
    goes: Sequence[Goes]

    def below(self) -> Mapping[int, Sequence[Goes]]:
        """Return what each part goes into."""
        found: dict[int, list[Goes]] = defaultdict(list)
        for one in self.goes:
            found[one.part].append(one)
        return found


def structure(*, kerf_nm: int) -> Structure:
    """Return every active item and what it goes into, with the losses the shop's own counts teach.

    A head takes a blank for each that comes good, a blank its length of bar and the kerf, a handle those that are
    firewood or split in hafting besides.
    """
    items = {
        one.pk: one
        for one in Item.objects.filter(active=True).select_related("supplier", "grade", "section", "pattern")
    }
    goes = [*_recipes(items), *_sawn(items, kerf_nm)]
    return Structure(items, list(_in_order(goes)))


def _recipes(items: Mapping[int, Item]) -> Iterator[Goes]:
    lost = _handle_losses()
    for tool, part, per in RecipePart.objects.filter(tool__active=True).values_list("tool_id", "part_id", "quantity"):
        if tool not in items or part not in items:
            continue
        more = lost if items[part].kind == Item.Kind.HANDLE else 1.0
        yield Goes(tool, part, per * more)


def _handle_losses() -> float:
    """Return how many handles are bought for each that holds a head."""
    sorted_ = HandleSort.objects.aggregate(good=Sum("good"), bad=Sum("bad"))
    bad, good = int(sorted_["bad"] or 0), int(sorted_["good"] or 0)
    rejects = CountReject.objects.filter(cause__handle_only=True, count__entry__reversed_by=None)
    split = int(rejects.aggregate(qty=Sum("qty"))["qty"] or 0)
    hafted = RunCount.objects.filter(step__work=Step.Work.HAFT, entry__reversed_by=None).aggregate(good=Sum("good"))
    firewood = (FIREWOOD[0] + bad) / (FIREWOOD[1] + bad + good)
    splits = (SPLIT[0] + split) / (SPLIT[1] + split + int(hafted["good"] or 0))
    return 1 / ((1 - firewood) * (1 - splits))


def _sawn(items: Mapping[int, Item], kerf_nm: int) -> Iterator[Goes]:
    heads = [one for one in items.values() if one.kind == Item.Kind.HEAD and one.pattern_id]
    blanks = {one.pattern_id: one for one in _first(items, Item.Kind.BLANK)}
    bars = {(one.grade_id, one.section_id): one for one in _first(items, Item.Kind.BAR)}
    walks = reached.walks_of({one.pattern_id for one in heads if one.pattern_id})
    for head in heads:
        blank = blanks.get(head.pattern_id)
        if blank is not None:
            yield Goes(head.pk, blank.pk, 1 / good_of(head, walks.get(head.pattern_id or 0)))
    for blank in blanks.values():
        bar = bars.get((blank.grade_id, blank.section_id))
        if bar is not None and blank.blank_length_nm:
            yield Goes(blank.pk, bar.pk, float(blank.blank_length_nm + kerf_nm))


def _first(items: Mapping[int, Item], kind: str) -> list[Item]:
    """Return the items of a kind so that of two alike the first by code is taken last, and stays."""
    return sorted((one for one in items.values() if one.kind == kind), key=lambda one: one.code, reverse=True)


def good_of(head: Item, walk: Walk | None) -> float:
    """Return the share of started pieces of a head that come to the shelf; one where nothing is known of its route."""
    if walk is None or head.pattern is None:
        return 1.0
    share = 1.0
    for point in learned.ahead(learned.rates(head.pattern, walk), 0, heads_only=True):
        share *= point.mean
    return max(0.05, share)


def _in_order(goes: Iterable[Goes]) -> Iterator[Goes]:
    """Yield what goes into what so that everything an item goes into comes before what goes into it."""
    left = list(goes)
    while left:
        parts = {one.part for one in left}
        ready = [one for one in left if one.whole not in parts]
        if not ready:  # a recipe that leads back to itself: what is left of it is not followed
            return
        yield from sorted(ready, key=lambda one: (one.whole, one.part))
        left = [one for one in left if one.whole in parts]

"""What is looked at: items that lines ask for, what they are made of, their patterns and routes, read in a few queries."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from inventory.models import Item, Pattern, RecipePart, Route, Step
from inventory.queries.along import Walk


@dataclass(slots=True)
class Reached:
    """Items by number, recipes, and the newest route of each pattern among them.

    `tools_of` gives the tools a head goes into, `blanks` the blank of a pattern, `bars` the bar of a grade and section.
    """

    items: dict[int, Item] = field(default_factory=dict)
    recipes: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    walks: dict[int, Walk] = field(default_factory=dict)
    blanks: dict[int, Item] = field(default_factory=dict)
    bars: dict[tuple[int | None, int | None], Item] = field(default_factory=dict)

    def longest(self, steel: str) -> int:
        """Return the longest blank that is sawn from a steel, in nanometres; 0 where none is."""
        lengths = [one.blank_length_nm or 0 for one in self.blanks.values() if self.steel_of(one) == steel]
        return max(lengths, default=0)

    def steel_of(self, blank: Item) -> str:
        """Return the name that the steel of a blank goes by: the bar as it is bought, where the book knows one."""
        bar = self.bars.get((blank.grade_id, blank.section_id))
        return bar.code if bar else f"steel of {blank.code}"

    def head_of(self, tool: Item) -> Item | None:
        """Return the head of a tool: the part that is a head with a pattern, one a tool."""
        parts = [self.items[part] for part, per in self.recipes.get(tool.pk, []) if per == 1]
        heads = [one for one in parts if one.kind == Item.Kind.HEAD and one.pattern_id]
        return heads[0] if heads else None

    def other_parts(self, tool: Item) -> list[tuple[Item, int]]:
        """Return what goes into a tool besides its head."""
        head = self.head_of(tool)
        return [
            (self.items[part], per) for part, per in self.recipes.get(tool.pk, []) if head is None or part != head.pk
        ]

    def walk_of(self, item: Item) -> Walk | None:
        """Return the newest route of an item: its own pattern's for a head, its head's for a tool."""
        of = self.head_of(item) if item.kind == Item.Kind.TOOL else item
        return self.walks.get(of.pattern_id or 0) if of else None

    def tools_of(self, head: Item) -> list[Item]:
        """Return the tools among the reached that a head goes into."""
        return [self.items[tool] for tool, parts in self.recipes.items() if head.pk in [part for part, _ in parts]]


def reach(item_ids: Iterable[int], patterns: Iterable[int]) -> Reached:
    """Return what items and patterns lead to.

    Args:
        item_ids: items that are asked for.
        patterns: of made-to-order lines and of open runs; the heads of these and the tools they go into come along.

    Parts that are weighed or measured, as glue, are left out: they hold nothing up.
    """
    found = Reached()
    asked = set(item_ids)
    heads = set(Item.objects.filter(pattern__in=set(patterns), kind=Item.Kind.HEAD).values_list("pk", flat=True))
    tools = RecipePart.objects.filter(part__in=heads, tool__active=True)
    asked |= heads | set(tools.values_list("tool_id", flat=True))
    parts = list(RecipePart.objects.filter(tool__in=asked, part__unit=Item.Unit.PIECE).order_by("tool_id", "part_id"))
    recipes: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for one in parts:
        recipes[one.tool_id].append((one.part_id, one.quantity))
    ids = asked | {one.part_id for one in parts}
    found.recipes = dict(recipes)
    found.items = {one.pk: one for one in Item.objects.filter(pk__in=ids).select_related("supplier", "pattern")}
    known = {one.pattern_id for one in found.items.values() if one.pattern_id} | set(patterns)
    found.walks = walks_of(known)
    blanks = Item.objects.filter(kind=Item.Kind.BLANK, pattern__in=known, active=True).order_by("-code")
    found.blanks = {one.pattern_id: one for one in blanks if one.pattern_id}  # the first by code stays
    bars = Item.objects.filter(kind=Item.Kind.BAR).select_related("supplier").order_by("active", "-code")
    sections = {one.section_id for one in found.blanks.values()}
    found.bars = {(one.grade_id, one.section_id): one for one in bars.filter(section__in=sections)}
    return found


def walks_of(patterns: Iterable[int]) -> dict[int, Walk]:
    """Return the newest route of each pattern, without the steps that are left out at will."""
    newest: dict[int, int] = {}
    for route in Route.objects.filter(pattern__in=set(patterns)).order_by("version"):
        newest[route.pattern_id] = route.pk
    steps: dict[int, list[Step]] = defaultdict(list)
    rows = Step.objects.filter(route__in=newest.values(), optional=False).select_related("tooling")
    for step in rows.prefetch_related("hands", "machines").order_by("number"):
        steps[step.route_id].append(step)
    return {pattern: Walk(steps[route]) for pattern, route in newest.items() if steps[route]}


def patterns_of(items: Mapping[int, Item]) -> Sequence[Pattern]:
    """Return the patterns among items."""
    return list({one.pattern_id: one.pattern for one in items.values() if one.pattern is not None}.values())

"""The racks of the shadow shop: free pieces, purchases under way, and lines that take finished tools in their order."""

from collections import Counter, deque
from dataclasses import dataclass

from tests.shadow import fates
from tests.shadow.past import LinePast
from tests.shadow.sight import Arrival, Coming, Owed, Purchase
from tests.shadow.truths import Line, Shop


@dataclass(slots=True)
class Wanting:
    """A line and what it still lacks."""

    line: Line
    lacks: int
    done: int | None = None


@dataclass(frozen=True, slots=True)
class UnderWay:
    """A purchase, the day it stands at the door (open or not), and how many of it are good."""

    coming: Coming
    comes: int
    good: int


class Stores:
    """Changes by arrivals, by what the floor takes and by tools that come to the shelf."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        items = [*(supply.item for supply in shop.facts.supplies), *(one.name for one in shop.facts.patterns)]
        self.free: Counter[str] = Counter(dict.fromkeys(items, 0) | dict(shop.stock))
        self.miscounted: Counter[str] = Counter()  # told less true, of tools on the shelf
        self.coming: list[UnderWay] = []
        self.arrivals: list[Arrival] = []
        self.unasked = deque(sorted(shop.lines, key=lambda line: line.asked))
        self.asked: list[Wanting] = []
        self.queues: dict[str, deque[Wanting]] = {one.name: deque() for one in shop.facts.patterns}
        self.waiting: list[Wanting] = []

    def receive(self, day: int) -> None:
        """Take in the deliveries of a morning."""
        for one in [one for one in self.coming if one.comes <= day]:
            coming = one.coming
            self.free[coming.item] += one.good
            self.arrivals.append(
                Arrival(coming.item, coming.qty, one.good, coming.ordered, coming.promised, day),
            )
            self.coming.remove(one)

    def order(self, day: int, purchases: tuple[Purchase, ...]) -> None:
        """Order from suppliers."""
        for number, one in enumerate(purchases):
            supply = self.shop.facts.supply(one.item)
            if one.qty < 1 or one.qty % supply.pack or one.promised < day + supply.lead:
                raise ValueError(f"day {day}: {one} does not keep to the supplier's pack and lead")
            comes = one.promised + fates.days_late(self.shop, one.item, day, number)
            good = fates.usable(self.shop, one.item, one.qty, day, number)
            coming = Coming(one.item, one.qty, day, one.promised)
            self.coming.append(UnderWay(coming, comes, good))

    def ask(self, day: int) -> None:
        """Let the lines of a morning join their queues; they take nothing yet."""
        while self.unasked and self.unasked[0].asked <= day:
            line = self.unasked.popleft()
            wanting = Wanting(line, line.qty)
            self.asked.append(wanting)
            self.queues[line.pattern].append(wanting)
            self.waiting.append(wanting)

    def shelve(self, pattern: str, pieces: int, minute: int) -> None:
        """Put finished tools on the shelf and let waiting lines take them."""
        self.free[pattern] += pieces
        self.serve(pattern, minute)

    def serve(self, pattern: str, minute: int) -> None:
        """Give free tools to lines, the first of the queue first, each until it is whole."""
        queue = self.queues[pattern]
        while queue and self.free[pattern]:
            first = queue[0]
            given = min(first.lacks, self.free[pattern])
            self.free[pattern] -= given
            first.lacks -= given
            if not first.lacks:
                first.done = minute
                queue.popleft()

    def serve_all(self, minute: int) -> None:
        """Serve the lines of every pattern."""
        for pattern in self.queues:
            self.serve(pattern, minute)

    def owed(self) -> tuple[Owed, ...]:
        """Return the lines that are not whole, in the order promised."""
        self.waiting = [one for one in self.waiting if one.lacks]
        return tuple(
            Owed(
                one.line.order,
                one.line.number,
                one.line.kind,
                one.line.pattern,
                one.line.qty,
                one.lacks,
                one.line.asked,
            )
            for one in self.waiting
        )

    def told(self) -> dict[str, int]:
        """Return the free pieces as counted."""
        return {item: max(0, pieces + self.miscounted[item]) for item, pieces in self.free.items()}

    def lines(self) -> tuple[LinePast, ...]:
        """Return what became of every line that was asked for."""
        return tuple(self._past(one) for one in self.asked)

    def _past(self, one: Wanting) -> LinePast:
        facts = self.shop.facts
        carried = None if one.done is None else facts.carrier.takes(one.done, facts.calendar)
        return LinePast(one.line, one.line.qty - one.lacks, one.done, carried)

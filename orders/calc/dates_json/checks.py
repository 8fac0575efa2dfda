"""What hangs together in a shop's state: names that are named exist, and the whole is not too much to work out."""

import math
from collections.abc import Collection, Iterable, Mapping
from typing import Any, Final

from orders.calc.dates.route import Product, Step
from orders.calc.dates.sizing import item_of, points
from orders.calc.dates.state import Shop
from orders.calc.dates_json.keys import MOST_RUNS
from orders.calc.dates_json.loading import Refused

FEWEST_GOOD: Final = 0.1  # No source: below one good piece of ten no forge makes a series
MOST_AT_ONCE: Final = 10_000_000  # lines times futures; 80 MB for each of the tables of days


def own_names(found: Mapping[str, Any]) -> None:
    """Check that nobody and nothing has the name of another.

    Args:
        found: parts of a shop by key.

    Raises:
        Refused: the first name that stands twice.
    """
    people = [one.code for one in found["people"]]
    _once("people", people)
    _once("machines", [one.code for one in found.get("machines", ())], taken=people)
    _once("suppliers", [one.code for one in found.get("suppliers", ())])
    _once("products", [one.item for one in found.get("products", ())], key="item")
    _once("batches", [one.code for one in found.get("batches", ())])
    _once("for_shelf", [one.item for one in found.get("for_shelf", ())], key="item")


def checked(shop: Shop) -> frozenset[str]:
    """Check every name that is named.

    Args:
        shop: as read.

    Returns:
        The items the shop knows.

    Raises:
        Refused: the first name that does not exist.
    """
    known = frozenset({*(one.item for one in shop.products), *shop.stock, *(one.item for one in shop.coming)})
    known |= frozenset(shop.buys_from)
    _suppliers(shop)
    _one_day(shop)
    for at, product in enumerate(shop.products):
        _product(shop, product, f"products[{at}]", known)
    _batches(shop)
    for at, line in enumerate(shop.lines):
        _named(f"lines[{at}].item", line.item, known, "items")
    for at, wish in enumerate(shop.for_shelf):
        _named(f"for_shelf[{at}].item", wish.item, {one.item for one in shop.products}, "products")
    _sheet(shop)
    return known


def fits(shop: Shop, futures: int) -> None:
    """Refuse what would take minutes to work out or more memory than a small machine has.

    Args:
        shop: as read.
        futures: to be played.

    Raises:
        Refused: too many runs, or too many lines for so many futures.
    """
    if len(shop.lines) * futures > MOST_AT_ONCE:
        most = MOST_AT_ONCE // len(shop.lines)
        raise Refused(f"futures: {futures} are too many for {len(shop.lines)} lines; up to {most} would work.")
    runs = len(shop.batches) + sum(_runs(shop, product) for product in shop.products)
    if runs > MOST_RUNS:
        raise Refused(f"lines: about {runs} runs are under way or needed; up to {MOST_RUNS} would work.")


def _runs(shop: Shop, product: Product) -> int:
    """Give about how many runs are started: lines up to a usual run together, parted where a run takes no more."""
    free, group, found = shop.stock.get(product.item, 0), 0, 0
    most = max(1.0, product.most * _good(product))
    for line in shop.lines:
        pieces = max(0, line.pieces - free) if line.item == product.item else 0
        free -= line.pieces - pieces if line.item == product.item else 0
        if group and group + pieces > product.usual:
            found, group = found + math.ceil(group / most), 0
        group += pieces
    found += sum(math.ceil(wish.pieces / product.most) for wish in shop.for_shelf if wish.item == product.item)
    return found + math.ceil(group / most)


def _good(product: Product) -> float:
    return math.prod(point.mean for point in points(product.steps, 0))


def _once(place: str, names: Iterable[str], *, key: str = "code", taken: Collection[str] = ()) -> None:
    seen = set(taken)
    for at, name in enumerate(names):
        if name in seen:
            raise Refused(f"{place}[{at}].{key}: {name!r} is taken already; a name of its own would work.")
        seen.add(name)


def _named(where: str, name: str, known: Collection[str], what: str) -> None:
    if name not in known:
        some = ", ".join(repr(one) for one in sorted(known)[:5])
        raise Refused(
            f"{where}: {name!r} is none of the {what}; {f'one such as {some} would work' if some else 'the document names none'}."
        )


def _one_day(shop: Shop) -> None:
    """Check that an order has one day: it goes as one parcel, and one of two days would be lost."""
    days: dict[str, tuple[int, int]] = {}
    for at, line in enumerate(shop.lines):
        if line.day is not None:
            first, day = days.setdefault(line.order, (at, line.day))
            if day != line.day:
                raise Refused(
                    f"lines[{at}].day: order {line.order!r} has another day in lines[{first}]; the same day, or an order of"
                    " its own, would work."
                )


def _suppliers(shop: Shop) -> None:
    codes = {one.code for one in shop.suppliers}
    for at, one in enumerate(shop.coming):
        _named(f"coming[{at}].supplier", one.supplier, codes, "suppliers")
    for item, code in shop.buys_from.items():
        _named(f"buys_from.{item}", code, codes, "suppliers")


def _product(shop: Shop, product: Product, where: str, known: frozenset[str]) -> None:
    people, machines = [one.code for one in shop.people], [one.code for one in shop.machines]
    if product.made_from:
        _named(f"{where}.made_from", product.made_from, known, "items")
    for at, step in enumerate(product.steps):
        place = f"{where}.steps[{at}]"
        for number, code in enumerate(step.hands):
            _named(f"{place}.hands[{number}]", code, people, "people")
        for number, code in enumerate(step.machines):
            _named(f"{place}.machines[{number}]", code, machines, "machines")
        for item, _ in step.uses:
            _named(f"{place}.uses.{item}", item, known, "items")
        _load(shop, step, place)
    if _good(product) < FEWEST_GOOD:
        raise Refused(f"{where}.steps: fewer than 1 of 10 come off well by good and bad; better counts would work.")


def _load(shop: Shop, step: Step, place: str) -> None:
    oven, day = step.oven, shop.hours.closes - shop.hours.opens
    if oven is not None and not oven.unattended and oven.minutes > day:
        raise Refused(
            f"{place}.oven: heat_up and soak take {oven.minutes} minutes and the open day has {day};"
            f" at most {day}, or unattended, would work."
        )


def _batches(shop: Shop) -> None:
    products, people = {one.item: one for one in shop.products}, [one.code for one in shop.people]
    for at, batch in enumerate(shop.batches):
        _named(f"batches[{at}].item", batch.item, products, "products")
        numbers = [0, *(step.number for step in products[batch.item].steps)]
        if batch.step not in numbers:
            raise Refused(f"batches[{at}].step: no step {batch.step}; {', '.join(map(str, numbers))} would work.")
        if "+" in batch.code:
            raise Refused(f"batches[{at}].code: a + names runs to be started; a code without one would work.")
        for number, code in enumerate(batch.by):
            _named(f"batches[{at}].by[{number}]", code, people, "people")


def _planned(shop: Shop, code: str) -> Product | None:
    """Give the product of a run still to be started, named item+1, item+2 …, item+shelf1 …"""
    item = item_of(code)
    return next((one for one in shop.products if one.item == item), None)


def _sheet(shop: Shop) -> None:
    items = {one.code: one.item for one in shop.batches}
    products, seen = {one.item: one for one in shop.products}, set[tuple[str, int]]()
    for at, pin in enumerate(shop.pins):
        product = products.get(items.get(pin.run, "")) or _planned(shop, pin.run)
        if product is None:
            raise Refused(f"pins[{at}].run: no run {pin.run!r}; the code of a batch, or item+1, would work.")
        numbers = [step.number for step in product.steps]
        if pin.step not in numbers:
            raise Refused(f"pins[{at}].step: no step {pin.step}; {', '.join(map(str, numbers))} would work.")
        if (pin.run, pin.step) in seen:
            raise Refused(f"pins[{at}]: step {pin.step} of {pin.run!r} is on the sheet twice; once would work.")
        seen.add((pin.run, pin.step))
    tooling = {step.tooling for product in shop.products for step in product.steps if step.tooling}
    machines = [one.code for one in shop.machines]
    for code, name in shop.tooling_in.items():
        _named(f"tooling_in.{code}", code, machines, "machines")
        _named(f"tooling_in.{code}", name, tooling, "tooling of a step")

"""What is made for the shelf, on the Week sheet: proposals that are put in with one touch, and what is in, which is dropped."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.models import Item
from orders.queries import for_the_shelf, making
from orders.queries.for_the_shelf import Proposal, Stood
from orders.queries.week import Proposed
from orders.services import for_shelf
from shop.flows import shelf_words
from shop.shared import shop_row
from shop.shared.errors import Invalid, NotFound
from shop.staff import posting, wording
from shop.staff.views.week_words import start_address

PUT, CHANGE, DROP = DOES = ("shelf_put", "shelf_change", "shelf_drop")


@dataclass(frozen=True, slots=True)
class Shown:
    """One item: the figure, what it is, and the sentences; `address` where it leads, nothing where it is put in.

    `start` is where what is in is started, filled in.
    """

    figure: str
    unit: str
    code: str
    name: str
    words: str
    pieces: int
    address: str = ""
    start: str = ""


def facts(found: Proposed, read: Stood, *, today: dt.date, desk: bool) -> dict[str, Sequence[Shown]]:
    """Return what stands there; only the desk, which may put it in, sees what is proposed."""
    shop = shop_row.the_shop()
    proposed = for_the_shelf.proposals(found, read) if desk else []
    return {
        "shelf_in": [_in(one, shop.zone) for one in for_the_shelf.in_week(found, read)],
        "shelf_proposed": [_proposed(one, today, shop.currency) for one in proposed],
    }


def _in(one: for_the_shelf.InWeek, zone: str) -> Shown:
    wish = one.wish
    runs = "" if one.runs else "; it cannot be made as it stands"
    runs = f", in {one.runs} runs" if one.runs > 1 else runs
    by = f" by {wish.by.name}" if wish.by else ""
    said = f"Put in {wording.at_moment(wish.asked_at, zone)}{by}{runs}. {wish.why}"
    return Shown(
        wording.figures(wish.pieces), "to start", wish.item.code, wish.item.name, said.strip(), wish.pieces,
        start=start_address(wish.item.code, for_shelf=True),
    )  # fmt: skip


def _proposed(one: Proposal, today: dt.date, currency: str) -> Shown:
    said = " ".join(part for part in (shelf_words.now(one, today), shelf_words.many(one, currency)) if part)
    address = "" if one.chosen else wording.address("staff:item", one.item.code)
    figure, unit = (one.pieces, "to start") if one.chosen else (one.wanted.heads, "to haft")
    return Shown(wording.figures(figure), unit, one.item.code, one.item.name, said, one.pieces, address)


def act(typed: Mapping[str, object], why: str, who: posting.Doing) -> str:
    """Put an item in, change it or drop it; return what is said of it."""
    code = str(typed["item"] or "")
    item = Item.objects.filter(code=code).first()
    if item is None:
        raise Invalid.field("item", f"Item: there is none with the code {code[:30]}; one of the shelf would work.")
    if typed["do"] != PUT:
        return _again(item, typed, who)
    pieces = typed["pieces"]
    assert isinstance(pieces, int), "the form wants a number"
    for_shelf.ask(item, pieces, why=why, at=who.at, by=who.by)
    said = f"{wording.figures(pieces)} of {item.name} are in the week for the shelf{_runs(item, pieces)}"
    return f"{said}, behind all that is owed."


def _again(item: Item, typed: Mapping[str, object], who: posting.Doing) -> str:
    """Change or drop what is in the week."""
    try:
        if typed["do"] == DROP:
            wish = for_shelf.drop(item, at=who.at, by=who.by)
            return f"{wording.figures(wish.pieces)} of {item.name} are out of the week again."
        pieces = typed["pieces"]
        assert isinstance(pieces, int), "the form wants a number"
        for_shelf.change(item, pieces, at=who.at, by=who.by)
    except NotFound as gone:
        raise Invalid.field("item", gone.sentence) from gone
    return f"{item.name}: {wording.figures(pieces)} are to be started for the shelf{_runs(item, pieces)}."


def why(typed: Mapping[str, object], found: Proposed, read: Stood) -> str:
    """Return the reason of the proposal that is put in, where the number is the proposed one."""
    currency = shop_row.the_shop().currency
    rows = for_the_shelf.proposals(found, read) if typed["do"] == PUT else []
    same = [one for one in rows if (one.item.code, one.pieces) == (typed["item"], typed["pieces"])]
    return shelf_words.short(same[0], currency) if same else ""


def _runs(item: Item, pieces: int) -> str:
    made = making.of(item)
    runs = for_shelf.runs(pieces, made.pattern.most_run) if made else 1
    return f" in {runs} runs" if runs > 1 else ""

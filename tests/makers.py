"""Plain functions that make what a test needs, through the same services as the shop, so that no test starts from an
impossible state. Each opens a transaction of its own where none is open.
"""

import datetime as dt
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from inventory.models import Certificate, Entry, Grade, Holding, Item, ItemStock, Lot, Melt, Place, Section
from inventory.services import arriving, catalogue, certificates, ledger
from inventory.services.arriving import Arrival, BarFacts
from inventory.services.certificates import TypedCertificate
from inventory.services.ledger import Line, Locks, Stamp
from orders.models import Customer, Hold, Order, OrderLine, Shipment
from orders.services import holding, ordering, reserving, shipping
from orders.services.ordering import Terms, Wanted
from orders.services.shipping import Parcel
from shop.access.actor import Actor
from shop.access.models import Person, Role
from shop.access.services import people
from shop.flows import making_up, stocktaking

AT = dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC)
"""A Monday morning; tests that need a later moment add to it."""

STEEL = (Item.Kind.BAR, Item.Kind.BLANK, Item.Kind.HEAD)
FOOT_NM = 304_800_000
STEEL_DENSITY = 7_850_000  # micrograms per cubic centimetre

_numbers = itertools.count(1)


def next_number() -> int:
    """Return a number that no maker has used, for codes and names."""
    return next(_numbers)


def actor(name: str = "tests") -> Actor:
    """Return somebody who acts and is nobody of the shop."""
    return Actor.command(name)


def stamp(*, at: dt.datetime = AT, by: Actor | None = None, happened_at: dt.datetime | None = None, reason: str = ""
          ) -> Stamp:  # fmt: skip
    """Return a stamp for an entry."""
    return Stamp(at=at, by=by or actor(), happened_at=happened_at, reason=reason)


def make_person(role: str = Role.HAND, *, login: str = "", name: str = "", password: str | None = None) -> Person:
    """Make a person; one without a password is only a name tile."""
    from django.contrib.auth.hashers import make_password

    number = next_number()
    if password is None and role == Role.OWNER:
        password = "a long password for tests"
    with transaction.atomic():
        return people.make(
            login=login or f"{role}{number}",
            particulars=people.Particulars(name or f"Invented {role} {number}", role),
            at=AT,
            by=None,
            password_kept=make_password(password) if password is not None else None,
        )


def make_grade(code: str = "1045") -> Grade:
    """Return a grade."""
    with transaction.atomic():
        return catalogue.grade(code, density_ug_per_cm3=STEEL_DENSITY)


def make_section(shape: str = Section.Shape.ROUND, size_nm: int = 50_800_000, typed: str = "2 in") -> Section:
    """Return a section; two inches of round where nothing is said."""
    with transaction.atomic():
        return catalogue.section(shape, size_nm, typed=typed)


def make_melt(heat_number: str | None = None, *, grade: Grade | None = None, mill: str = "Invented Mill") -> Melt:
    """Return a melt, a new one where no mill heat number is given."""
    with transaction.atomic():
        return catalogue.melt(
            grade=grade or make_grade(), heat_number=heat_number or f"0{next_number():05d}", mill=mill
        )


def file_certificate(
    melt: Melt, *, document: str = "ASTM A29/A29M", edition: str = "16", **figures: str
) -> Certificate:
    """File a certificate with a melt: its figures by element, as printed."""
    typed = TypedCertificate(number="C-1", document=document, edition=edition, figures=figures)
    with transaction.atomic():
        return certificates.file(melt, typed, at=AT, by=actor())


def make_item(kind: str = Item.Kind.HANDLE, *, code: str = "", name: str = "", **facts: object) -> Item:
    """Make an item of any kind; a bar gets two inches of round, anything a price."""
    code = code or f"{kind[:3].upper()}-{next_number()}"
    if kind == Item.Kind.BAR:
        facts = {"grade": make_grade(), "section": make_section(), **facts}
    else:
        facts = {"retail_minor": 4_500, **facts}
    with transaction.atomic():
        return catalogue.add_item(at=AT, by=actor(), kind=kind, code=code, name=name or f"Invented {code}", **facts)


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool with what it is made up from: one head, one handle, two wedges."""

    item: Item
    head: Item
    handle: Item
    wedge: Item

    @property
    def recipe(self) -> dict[int, int]:
        return {self.head.pk: 1, self.handle.pk: 1, self.wedge.pk: 2}

    @property
    def parts(self) -> tuple[Item, Item, Item]:
        return self.head, self.handle, self.wedge


def make_tool(*, code: str = "", wedges: int = 2, **facts: object) -> Tool:
    """Make a tool that is made up from a head, a handle and wedges; nothing of it is there yet."""
    tool = Tool(
        item=make_item(Item.Kind.TOOL, code=code, **facts),
        head=make_item(Item.Kind.HEAD),
        handle=make_item(Item.Kind.HANDLE),
        wedge=make_item(Item.Kind.CONSUMABLE),
    )
    with transaction.atomic():
        parts = {tool.head: 1, tool.handle: 1, tool.wedge: wedges}
        catalogue.set_recipe(tool.item, parts, at=AT, by=actor())
    return tool


def put_in(
    item: Item,
    qty: int,
    *,
    place: str = "",
    step: int = 0,
    melt: Melt | None = None,
    at: dt.datetime = AT,
    by: Actor | None = None,
    cost_minor: int | None = None,
) -> Lot:
    """Bring one new lot into the book as moved in; steel gets a melt of its own where none is named.

    As every arrival it serves the lines that wait.
    """
    if melt is None and item.kind in STEEL:
        melt = make_melt(grade=item.grade)
    facts = BarFacts(section=item.section, typed=f"{qty} nm") if item.kind == Item.Kind.BAR and item.section else None
    with transaction.atomic():
        where = catalogue.place(place or catalogue.HOME[Item.Kind(item.kind)])
        arrival = Arrival(item=item, qty=qty, place=where, melt=melt, step=step, bar=facts, cost_minor=cost_minor)
        locks = reserving.lock_and_tidy({item.pk}, at=at)
        _, lots = arriving.arrive(
            Entry.Kind.MOVE_IN, [arrival], source=catalogue.place("MOVE-IN"), locks=locks, stamp=stamp(at=at, by=by)
        )
        reserving.serve_waiting(locks)
    return lots[0]


def put_in_parts(tool: Tool, heads: int, handles: int, wedges: int, *, at: dt.datetime = AT) -> tuple[Lot, Lot, Lot]:
    """Bring in parts of a tool."""
    return put_in(tool.head, heads, at=at), put_in(tool.handle, handles, at=at), put_in(tool.wedge, wedges, at=at)


@dataclass(frozen=True, slots=True)
class Made:
    """What came of making up."""

    entry: Entry
    lots: list[Lot]


def make_up(tool: Tool, qty: int, *, at: dt.datetime = AT) -> Made:
    """Make so many tools up from their free parts."""
    with transaction.atomic():
        return Made(*making_up.make_up(tool.item, qty, stamp=stamp(at=at)))


def move(
    lot: Lot, qty: int, *, source: str, target: str, kind: str = Entry.Kind.MOVE, at: dt.datetime = AT, by: Actor | None = None
) -> Entry:  # fmt: skip
    """Book pieces of a lot from one place to another."""
    with transaction.atomic():
        locks = reserving.lock_and_tidy({lot.item_id}, at=at)
        lines = [Line(lot=lot, qty=qty, source=catalogue.place(source), target=catalogue.place(target))]
        entry = ledger.commit(kind, lines, locks=locks, stamp=stamp(at=at, by=by))
        reserving.serve_waiting(locks)
    return entry


def commit(kind: str, lines: Sequence[Line], *locked: Item, by: Stamp | None = None, begun: int | None = None
           ) -> Entry:  # fmt: skip
    """Write an entry as the ledger does, under the lock of these items; `begun` says how many lines it was begun with."""
    with transaction.atomic():
        locks = locks_for(*locked)
        entry = ledger.begin(kind, lines=len(lines) if begun is None else begun, stamp=by or stamp())
        ledger.post(entry, lines, locks)
    return entry


def lose(lot: Lot, qty: int, *, place: str, at: dt.datetime = AT) -> list[OrderLine]:
    """Book pieces of a lot as scrap; those promised give way, the last promised first. Returns the lines that lost."""
    with transaction.atomic():
        gone = stocktaking.write_off(lot, qty, place=catalogue.place(place), cause="lost", stamp=stamp(at=at))
    return list(gone.gave_way)


def make_customer(name: str = "", *, kind: str = Customer.Kind.ONE_OFF, address: str = "1 Invented Lane") -> Customer:
    """Make a customer."""
    return Customer.objects.create(name=name or f"Invented customer {next_number()}", kind=kind, address=address)


def make_order(
    wanted: Mapping[Item, int] | list[Wanted],
    *,
    customer: Customer | None = None,
    terms: Terms | None = None,
    at: dt.datetime = AT,
    by: Actor | None = None,
    wait: bool = True,
) -> Order:
    """Take an order: {item: pieces}, or lines in full."""
    lines = wanted if isinstance(wanted, list) else [Wanted(qty=qty, item=item) for item, qty in wanted.items()]
    with transaction.atomic():
        buyer = customer or make_customer()
        return ordering.take(buyer, lines, terms or Terms(), at=at, by=by or actor(), wait=wait)


def line_of(order: Order, number: int = 1) -> OrderLine:
    """Return a line of an order as it stands in the database now."""
    return OrderLine.objects.select_related("item", "order", "allocation").get(order=order, number=number)


def make_hold(item: Item, qty: int, *, minutes: int = 15, at: dt.datetime = AT, made_by: str = "tests") -> Hold:
    """Put pieces by for minutes."""
    with transaction.atomic():
        return holding.put_by(item, qty, minutes=minutes, at=at, made_by=made_by)


def make_phone_hold(
    item: Item, qty: int, *, name: str = "Invented caller", until: dt.datetime | None = None, at: dt.datetime = AT
) -> Hold:
    """Put pieces by for a caller, for a day where nothing is said."""
    with transaction.atomic():
        until = until or at + dt.timedelta(days=1)
        return holding.say_on_the_phone(item, qty, name=name, until=until, at=at, made_by="tests")


def send(order: Order, sending: Mapping[int, int] | None = None, *, at: dt.datetime = AT, parcel: Parcel | None = None
         ) -> Shipment:  # fmt: skip
    """Send what was chosen of each line (number to quantity), or all that is set aside."""
    with transaction.atomic():
        lines = sending or {line.number: line.reserved for line in order.lines.all() if line.reserved}
        return shipping.send(order, lines, parcel or Parcel(carrier="Invented Carrier"), stamp=stamp(at=at))


def locks_for(*items: Item, at: dt.datetime = AT) -> Locks:
    """Lock items in the open transaction, lapsed holds and waiting lines tidied first, as every flow does."""
    return reserving.lock_and_tidy({item.pk for item in items}, at=at)


def place(code: str) -> Place:
    """Return a place by its code."""
    return catalogue.place(code)


def stock(item: Item) -> ItemStock:
    """Return an item's counters as they stand in the database now."""
    return ItemStock.objects.get(pk=item.pk)


def stands(lot: Lot, code: str, *, step: int = 0) -> int:
    """Return how many of a lot stand at a place."""
    found = Holding.objects.filter(lot=lot, place__code=code, step=step).first()
    return found.on_hand if found else 0

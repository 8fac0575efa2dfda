"""Moving in: items, customers, stock and open orders from a table, all or nothing, and the same table once.

A dry run does everything the real one does and takes it back, so what it says is what would happen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from inventory.models import Entry
from inventory.services import moving_in as stock
from inventory.services.arriving import Arrival
from inventory.services.ledger import Stamp
from orders.models import Customer
from orders.services import customers, reserving
from shop.flows import moving_in_orders
from shop.shared import audit, series, tables, transactions
from shop.shared.errors import Invalid, Refusal
from shop.shared.models import AuditLine
from shop.shared.tables import Row, Table

CUSTOMER_COLUMNS = ("name", "kind", "email", "phone", "address", "terms")
MOST_REPORTED = 2000


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of table: its columns, and which of them must be there."""

    columns: Sequence[str]
    needed: Sequence[str]


KINDS = {
    "items": Kind(stock.ITEM_COLUMNS, stock.ITEM_NEEDED),
    "customers": Kind(CUSTOMER_COLUMNS, ("name",)),
    "stock": Kind(stock.STOCK_COLUMNS, stock.STOCK_NEEDED),
    "orders": Kind(moving_in_orders.COLUMNS, moving_in_orders.NEEDED),
}
# Services name their own fields; a table's line names its columns.
_COLUMN_OF = {
    "heat_number": "mill heat number", "number": "bar number", "issue_per_buy": "per buy unit",
    "retail_minor": "retail price", "dealer_minor": "dealer price", "shipped_mass_mg": "shipped weight",
    "parts": "made from", "bars": "quantity", "qty": "quantity", "price_minor": "price", "length": "quantity",
}  # fmt: skip


class MovedInAlready(Refusal):
    """The very same table is in the book."""

    code = "moved_in_already"


@dataclass(frozen=True, slots=True)
class ReportLine:
    """One line of the table: what is made of it, or which column is wrong and what would work."""

    number: int
    said: str = ""
    wrong: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Report:
    """What a table makes, line by line; written only where nothing is wrong and it was no dry run."""

    kind: str
    lines: Sequence[ReportLine]
    written: bool
    number: int | None = None
    entries: Sequence[Entry] = ()

    @property
    def wrong(self) -> list[ReportLine]:
        """Return the lines that cannot be moved in as they stand."""
        return [line for line in self.lines if line.wrong]


class _TakeBack(Exception):  # no error: it rolls the dry run back
    pass


def look(kind: str, given: str | bytes, *, stamp: Stamp) -> Report:
    """Say line by line what the table would make; nothing is written."""
    return _run(kind, given, stamp=stamp, write=False)


def move_in(kind: str, given: str | bytes, *, stamp: Stamp) -> Report:
    """Move the table in, or where any line is wrong write nothing and say what is."""
    return _run(kind, given, stamp=stamp, write=True)


def _run(kind: str, given: str | bytes, *, stamp: Stamp, write: bool) -> Report:
    transactions.assert_open()
    if kind not in KINDS:
        raise Invalid.field("kind", f"Kind: {kind[:20]!r} is none of {', '.join(KINDS)}; choose one.")
    table = tables.read(given, known=KINDS[kind].columns, needed=KINDS[kind].needed)
    report = Report(kind, (), written=False)
    try:
        with transaction.atomic():
            number = series.take("move-in")  # held to the end: two people moving in go one after the other
            _refuse_the_same(kind, table)
            lines, entries = _WRITERS[kind](table, stamp)
            report = Report(kind, lines, written=False)
            if report.wrong or not write:
                raise _TakeBack  # noqa: TRY301 - leaving the block by a raise is what rolls it back
            _note(kind, table, number, entries, stamp)
            return Report(kind, lines, written=True, number=number, entries=entries)
    except _TakeBack:
        return report


def _refuse_the_same(kind: str, table: Table) -> None:
    before = AuditLine.objects.filter(subject=_subject(kind, table), action="table moved in").order_by("id").last()
    if before is None or before.after is None:
        return
    entries = before.after.get("entries") or []
    if entries and not Entry.objects.filter(pk__in=entries, reversed_by=None).exists():
        return  # its stock was undone, so it may come in again
    number = before.after.get("number")
    sentence = f"This very table was moved in as number {number}; change the lines that are new, or stop here."
    raise MovedInAlready(sentence, {"table": sentence})


def _note(kind: str, table: Table, number: int, entries: Sequence[Entry], stamp: Stamp) -> None:
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="table moved in",
        subject=_subject(kind, table),
        after={"number": number, "kind": kind, "lines": len(table.rows), "entries": [entry.pk for entry in entries]},
    )


def _subject(kind: str, table: Table) -> str:
    return f"table {kind} {table.digest()}"


Done = tuple[list[ReportLine], list[Entry]]


def _line(row: Row, action: Callable[[], str]) -> ReportLine:
    """Carry out one line in a savepoint and say what came of it."""
    try:
        with transaction.atomic():
            return ReportLine(row.number, said=action())
    except Refusal as refusal:
        return ReportLine(row.number, wrong=columns_of(refusal))


def columns_of(refusal: Refusal) -> dict[str, str]:
    """Return a refusal's sentences by the column of the table they are about."""
    wrong = {}
    for name, sentence in (refusal.fields or {"": refusal.sentence}).items():
        plain = name.rsplit(".", 1)[-1]
        wrong[_COLUMN_OF.get(plain, plain.replace("_", " "))] = sentence
    return wrong


def _items(table: Table, stamp: Stamp) -> Done:
    lines = [_line(row, lambda row=row: stock.add_item(row, stamp=stamp)) for row in table.rows]  # type: ignore[misc]
    for index, row in enumerate(table.rows):
        if row.get("made from") and not lines[index].wrong:
            parts = _line(row, lambda row=row: stock.set_parts(row, stamp=stamp))  # type: ignore[misc]
            lines[index] = parts if parts.wrong else ReportLine(row.number, f"{lines[index].said}, {parts.said}")
    return lines, []


def _customers(table: Table, stamp: Stamp) -> Done:
    def add(row: Row) -> str:
        name = " ".join(row.get("name").split())
        if Customer.objects.filter(name__iexact=name).exists():
            raise Invalid.field("name", f"Name: {name[:60]} is in the book already; leave this line out.")
        made = customers.add(
            name=name,
            kind=row.get("kind").lower() or Customer.Kind.ONE_OFF,
            email=row.get("email"),
            phone=row.get("phone"),
            address=row.get("address"),
            terms=row.get("terms"),
            at=stamp.at,
            by=stamp.by,
        )
        return f"{made.kind} customer {made.name}"

    return [_line(row, lambda row=row: add(row)) for row in table.rows], []  # type: ignore[misc]


def _stock(table: Table, stamp: Stamp) -> Done:
    arrivals: list[Arrival] = []
    numbers = stock.BarNumbers()

    def read(row: Row) -> str:
        made, said = stock.stock(row, numbers, stamp=stamp)
        arrivals.extend(made)
        return said

    lines = [_line(row, lambda row=row: read(row)) for row in table.rows]  # type: ignore[misc]
    if any(line.wrong for line in lines):
        return lines, []
    locks = reserving.lock_and_tidy({arrival.item.pk for arrival in arrivals}, at=stamp.at)
    entries = stock.bring_in(arrivals, locks=locks, stamp=stamp)
    reserving.serve_waiting(locks)
    return lines, entries


def _orders(table: Table, stamp: Stamp) -> Done:
    lines = []
    for rows in moving_in_orders.groups(table):
        first = _line(rows[0], lambda rows=rows: moving_in_orders.take(rows, stamp=stamp))  # type: ignore[misc]
        lines.append(first)
        lines += [
            ReportLine(row.number, said=f"another line of the order in line {rows[0].number}") for row in rows[1:]
        ]
    return sorted(lines, key=lambda line: line.number), []


_WRITERS: dict[str, Callable[[Table, Stamp], Done]] = {
    "items": _items,
    "customers": _customers,
    "stock": _stock,
    "orders": _orders,
}

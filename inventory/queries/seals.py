"""Checksums of the book's rows: not a signature, but enough to name the row that somebody altered by hand.

They are worked out from plain values, so that a check of many rows need not make an object of each.
"""

import datetime as dt
import hashlib

from inventory.models import Entry, Movement

ENTRY = ("kind", "happened_at", "booked_at", "by_id", "device", "reason", "reverses_id", "lines")
MOVEMENT = (
    "entry_id",
    "line",
    "item_id",
    "lot_id",
    "from_place_id",
    "from_step",
    "to_place_id",
    "to_step",
    "qty",
    "mass_mg",
    "basis",
)
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MICROSECOND = dt.timedelta(microseconds=1)


def of_values(facts: tuple[object, ...]) -> int:
    """Return the checksum of a row's values as the database gives them, in the order of MOVEMENT."""
    digest = hashlib.blake2b(repr(facts).encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big", signed=True)


def of_entry_values(kind: str, happened_at: dt.datetime, booked_at: dt.datetime, *rest: object) -> int:
    """Return the checksum of an entry's values, in the order of ENTRY."""
    moments = (happened_at - _EPOCH) // _MICROSECOND, (booked_at - _EPOCH) // _MICROSECOND
    return of_values((str(kind), *moments, *rest))


def entry_seal(entry: Entry) -> int:
    """Return the checksum of an entry's own facts."""
    return of_entry_values(*(getattr(entry, name) for name in ENTRY))


def movement_seal(movement: Movement) -> int:
    """Return the checksum of a movement's facts."""
    return of_values(tuple(getattr(movement, name) for name in MOVEMENT))

"""Checksums of the book's rows: not a signature, but enough to name the row that somebody altered by hand."""

import hashlib

from inventory.models import Entry, Movement


def _seal(*facts: object) -> int:
    digest = hashlib.blake2b(repr(facts).encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big", signed=True)


def entry_seal(entry: Entry) -> int:
    """Return the checksum of an entry's own facts."""
    return _seal(
        str(entry.kind),
        int(entry.happened_at.timestamp() * 1_000_000),
        int(entry.booked_at.timestamp() * 1_000_000),
        entry.by_id,
        entry.device,
        entry.reason,
        entry.reverses_id,
        entry.lines,
    )


def movement_seal(movement: Movement) -> int:
    """Return the checksum of a movement's facts."""
    return _seal(
        movement.entry_id,
        movement.line,
        movement.item_id,
        movement.lot_id,
        movement.from_place_id,
        movement.from_step,
        movement.to_place_id,
        movement.to_step,
        movement.qty,
        movement.mass_mg,
        movement.basis,
    )

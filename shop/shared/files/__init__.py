"""Files from outside: looked through, drawn anew where they are pictures, kept under our own name, read back whole."""

from shop.shared.files.kept import MOST_BYTES, TYPES, Kept, keep, look_at, name_for_people, only_if_booked, read

__all__ = ["MOST_BYTES", "TYPES", "Kept", "keep", "look_at", "name_for_people", "only_if_booked", "read"]

"""The rooms of the shop in the order steel walks, and the doorways that exist in this version."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse


@dataclass(frozen=True, slots=True)
class Room:
    """One room: its key in `room`, its word on the wall, how a sentence names it, whether it is used with a glove."""

    key: str
    label: str
    spoken: str
    glove: bool

    @property
    def url_name(self) -> str:
        """Return the name of the room's own page."""
        return f"staff:{self.key}"


@dataclass(frozen=True, slots=True)
class Doorway:
    """A room that can be entered, and its address."""

    key: str
    label: str
    spoken: str
    glove: bool
    address: str


@dataclass(frozen=True, slots=True)
class Walk:
    """The wall as seen from one room: every doorway, the one stood in and its two neighbours."""

    doorways: tuple[Doorway, ...]
    here: Doorway | None
    back: Doorway | None
    on: Doorway | None


ROOMS = (
    Room("day", "Day", "the Day sheet", glove=True),
    Room("week", "Week", "the Week sheet", glove=False),
    Room("door", "Door", "the Door", glove=True),
    Room("rack", "Rack", "the Rack", glove=True),
    Room("floor", "Floor", "the Floor", glove=True),
    Room("shelf", "Shelf", "the Shelf", glove=True),
    Room("counter", "Counter", "the Counter", glove=False),
    Room("book", "Book", "the Book", glove=False),
)


def doorways() -> tuple[Doorway, ...]:
    """Return the rooms whose page exists; a room without one has no doorway."""
    found = []
    for room in ROOMS:
        try:
            address = reverse(room.url_name)
        except NoReverseMatch:
            continue
        found.append(Doorway(room.key, room.label, room.spoken, room.glove, address))
    return tuple(found)


def walk(key: str) -> Walk:
    """Return the wall as seen from the room with this key; from nowhere where the key names no room."""
    ways = doorways()
    places = [way.key for way in ways]
    if key not in places:
        return Walk(ways, None, None, None)
    at = places.index(key)
    back = ways[at - 1] if at > 0 else None
    on = ways[at + 1] if at + 1 < len(ways) else None
    return Walk(ways, ways[at], back, on)


def room_of(url_name: str) -> str:
    """Return the room a page belongs to by the first word of its URL name (rack_plan, rack-plan), or nothing."""
    first = url_name.replace("-", "_").split("_")[0]
    return first if any(room.key == first for room in ROOMS) else ""

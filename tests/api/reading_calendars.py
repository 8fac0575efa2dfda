"""Reads a calendar by the grammar of RFC 5545 and by nothing of ours: sections 3.1 (lines), 3.3 (values), 3.6 (components)."""

import re
from dataclasses import dataclass, field

CONTROL = r"\x00-\x08\x0a-\x1f\x7f"
NAME = r"[A-Za-z0-9-]+"
PARAMETER = rf';({NAME})=("[^"{CONTROL}]*"|[^";:,{CONTROL}]*)'
LINE = re.compile(rf"({NAME})((?:{PARAMETER})*):([^{CONTROL}]*)")
TEXT = re.compile(rf"(?:[^;,\\{CONTROL}]|\\[\\;,Nn])*")
KINDS = {
    "TEXT": TEXT,
    "DATE": re.compile(r"\d{4}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])"),
    "DATE-TIME": re.compile(r"\d{8}T(?:[01]\d|2[0-3])[0-5]\d(?:[0-5]\d|60)Z?"),
    "INTEGER": re.compile(r"[+-]?\d+"),
    "DURATION": re.compile(r"[+-]?P(?:\d+W|(?:\d+D)?(?:T(?:\d+H)?(?:\d+M)?(?:\d+S)?)?)"),
    "URI": re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:\S+"),
    "UTC-OFFSET": re.compile(r"[+-](?:[01]\d|2[0-3])[0-5]\d(?:[0-5]\d)?"),
}
USUAL = {
    "DTSTART": "DATE-TIME", "DTEND": "DATE-TIME", "DTSTAMP": "DATE-TIME", "SEQUENCE": "INTEGER", "URL": "URI",
    "TZOFFSETFROM": "UTC-OFFSET", "TZOFFSETTO": "UTC-OFFSET",
}  # fmt: skip
ONCE_IN_EVENT = {"UID", "DTSTAMP", "DTSTART", "SUMMARY", "STATUS", "SEQUENCE", "TRANSP", "URL", "DTEND", "DESCRIPTION"}
MOST_OCTETS = 75


@dataclass
class Component:
    """A component with its properties as (name, parameters, value), and what stands in it."""

    name: str
    properties: list[tuple[str, dict[str, str], str]] = field(default_factory=list)
    inside: list["Component"] = field(default_factory=list)

    def value(self, name: str) -> str:
        """Return the value of a property that stands there once, its escapes undone where it is text."""
        (found,) = [(given, value) for at, given, value in self.properties if at == name]
        return plain(found[1]) if found[0].get("VALUE", USUAL.get(name, "TEXT")) == "TEXT" else found[1]


def plain(text: str) -> str:
    """Undo the escapes of TEXT (3.3.11)."""
    return re.sub(r"\\([\\;,Nn])", lambda found: "\n" if found[1] in "Nn" else found[1], text)


def unfolded(raw: bytes) -> list[str]:
    """Return the content lines (3.1): CRLF ends, 75 octets at the most, folds undone; no letter is torn by a fold."""
    assert raw.endswith(b"\r\n")
    physical = raw[:-2].split(b"\r\n")
    for line in physical:
        assert len(line) <= MOST_OCTETS, line
        assert b"\r" not in line
        assert b"\n" not in line
        line.decode("utf-8")
    return re.sub(r"\r\n[ \t]", "", raw[:-2].decode("utf-8")).split("\r\n")


def read(raw: bytes) -> Component:
    """Return the calendar; whatever is against the grammar fails."""
    top = Component("")
    open_ones = [top]
    for line in unfolded(raw):
        found = LINE.fullmatch(line)
        assert found, line
        name, value = found[1].upper(), found[5]
        parameters = {each.upper(): text.strip('"') for each, text in re.findall(PARAMETER, found[2])}
        if name == "BEGIN":
            open_ones[-1].inside.append(Component(value))
            open_ones.append(open_ones[-1].inside[-1])
        elif name == "END":
            assert open_ones.pop().name == value, line
        else:
            kind = parameters.get("VALUE", USUAL.get(name, "TEXT"))
            assert KINDS[kind].fullmatch(value), line
            open_ones[-1].properties.append((name, parameters, value))
    assert open_ones == [top]
    (calendar,) = top.inside
    _check(calendar)
    return calendar


def _check(calendar: Component) -> None:
    assert calendar.name == "VCALENDAR"
    assert calendar.value("VERSION") == "2.0"
    assert calendar.value("PRODID")
    assert calendar.inside, "3.6: one component at the least"
    for event in calendar.inside:
        names = [name for name, _, _ in event.properties]
        if event.name == "VEVENT":
            assert {"UID", "DTSTAMP", "DTSTART"} <= set(names)
            assert all(names.count(name) <= 1 for name in ONCE_IN_EVENT)
            assert event.value("DTSTAMP").endswith("Z"), "3.8.7.2: in UTC"
        if event.name == "VTIMEZONE":
            assert names == ["TZID"]
            assert event.inside
    ids = [event.value("UID") for event in calendar.inside if event.name == "VEVENT"]
    assert len(ids) == len(set(ids))

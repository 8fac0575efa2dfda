"""What has been typed about a delivery, every field as typed, so that a draft survives whatever is wrong with it."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields

# These stand in a line before anybody has typed anything into it.
GIVEN = ("sort", "order_line", "unit", "measured", "weighed_by", "shape", "certificate")


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line of a delivery, every field as typed; steel has grade, shape, size and bars, other goods an item."""

    sort: str = ""
    order_line: str = ""
    item: str = ""
    quantity: str = ""
    grade: str = ""
    new_grade: str = ""
    shape: str = ""
    size: str = ""
    width: str = ""
    heat_number: str = ""
    mill: str = ""
    bars: str = ""
    unit: str = ""
    measured: str = "yes"
    scale: str = ""
    weighed_by: str = ""
    cost: str = ""
    place: str = ""
    damage: str = ""
    certificate: str = ""

    @property
    def empty(self) -> bool:
        """Return whether nothing was typed; a line of the order of which nothing came stays empty."""
        typed = asdict(self)
        return not any(value.strip() for name, value in typed.items() if name not in GIVEN)


@dataclass(frozen=True, slots=True)
class Paper:
    """What has been typed about a delivery so far."""

    lines: Sequence[PaperLine] = ()
    supplier_paper: str = ""
    note: str = ""
    freight: str = ""

    def as_json(self) -> dict[str, object]:
        """Return it as it is kept in the draft."""
        return {
            "lines": [asdict(line) for line in self.lines],
            "supplier_paper": self.supplier_paper,
            "note": self.note,
            "freight": self.freight,
        }


def paper(kept: Mapping[str, object]) -> Paper:
    """Return what a draft kept, whatever an older version wrote into it."""
    names = {f.name for f in fields(PaperLine)}
    rows = kept.get("lines")
    lines = [
        PaperLine(**{name: str(value) for name, value in row.items() if name in names})
        for row in (rows if isinstance(rows, list) else [])
        if isinstance(row, dict)
    ]
    return Paper(lines, str(kept.get("supplier_paper", "")), str(kept.get("note", "")), str(kept.get("freight", "")))

"""The shapes of answers, as JSON Schema: written once, used by the description and by the test that compares."""

from collections.abc import Mapping
from typing import Any

from shop.api.fields import MONEY_PATTERN, QUANTITY_PATTERN

Shape = Mapping[str, Any]

TEXT: Shape = {"type": "string"}
WHOLE: Shape = {"type": "integer"}
YES_NO: Shape = {"type": "boolean"}
MOMENT: Shape = {"type": "string", "format": "date-time", "description": "RFC 3339, in UTC."}
DAY: Shape = {"type": "string", "format": "date", "description": "A calendar day in the shop's zone."}
QUANTITY: Shape = {
    "type": "string",
    "pattern": QUANTITY_PATTERN,
    "description": "Decimal text in the unit that stands beside it.",
}
UNIT: Shape = {"type": "string", "enum": ["piece", "mm", "g", "mL"]}


def thing(optional: tuple[str, ...] = (), /, **parts: Shape) -> Shape:
    """Return the shape of an object with these names and no others."""
    return {
        "type": "object",
        "properties": dict(parts),
        "required": [name for name in parts if name not in optional],
        "additionalProperties": False,
    }


def many(shape: Shape) -> Shape:
    """Return the shape of a list."""
    return {"type": "array", "items": shape}


def maybe(shape: Shape) -> Shape:
    """Return the shape of something that can be null."""
    if isinstance(shape.get("type"), str) and "enum" not in shape:
        return {**shape, "type": [shape["type"], "null"]}
    return {"oneOf": [shape, {"type": "null"}]}


def words(*choices: str) -> Shape:
    """Return the shape of one of a few words."""
    return {"type": "string", "enum": list(choices)}


def page(shape: Shape, /, **parts: Shape) -> Shape:
    """Return the shape of one page of a list."""
    return thing(
        rows=many(shape),
        next=maybe({"type": "string", "description": "Address of the next page."}),
        **parts,
    )


LENGTH = thing(("typed",), mm=QUANTITY, inches=TEXT, typed=TEXT)
MASS = thing(g=QUANTITY, pounds=TEXT)
MONEY = thing(amount={"type": "string", "pattern": MONEY_PATTERN}, currency=TEXT)

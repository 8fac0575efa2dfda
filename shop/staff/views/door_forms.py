"""The delivery as it is typed at the door: one form whose lines grow as they are asked for."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from inventory.models import Item, PurchaseOrder, PurchaseOrderLine, Section
from inventory.queries import deliveries
from inventory.services.delivery_lines import MOST_LINES, WEIGHED_BY, Paper, PaperLine
from shop.shared import units
from shop.staff.fields import Moment, SlipForm, Words
from shop.staff.forms import speak_plainly

STEEL, GOODS = "steel", "goods"
AT_THE_LORRY = PaperLine(sort=STEEL, measured="no")  # lengths off a paper are no lengths to saw by
SELDOM = ("scale", "weighed_by", "unit", "mill", "place", "cost")
_SHAPES = [("", "choose"), *((shape.value, shape.value) for shape in Section.Shape)]
_UNITS = [("", "as written"), ("ft", "feet"), ("in", "inches"), ("m", "metres"), ("mm", "millimetres")]
_MEASURED = [("no", "by the paper"), ("yes", "taped")]
_CERTIFICATE = [("", "not said"), ("to come", "to come"), ("none", "none")]
_WEIGHED = [("", "not weighed"), *((who, who) for who in WEIGHED_BY)]

_NEW_STEEL = ("grade", "new_grade", "shape", "size", "width")
_BARS = ("bars", "measured", "heat_number", "certificate", "damage", "scale", "weighed_by", "unit", "mill", "place")
_NEW_GOODS = ("item", "quantity", "heat_number", "place")
_ORDERED_GOODS = ("quantity", "place")
_ORDERED_HEADS = ("quantity", "heat_number", "place")  # bought blanks and heads


def fields_of(line: PaperLine, ordered: PurchaseOrderLine | None, *, costs: bool) -> tuple[str, ...]:
    """Return which fields a line asks for: what the order says is not asked again."""
    names: tuple[str, ...]
    if ordered is not None:
        goods = _ORDERED_HEADS if ordered.item.kind in (Item.Kind.BLANK, Item.Kind.HEAD) else _ORDERED_GOODS
        names = _BARS if ordered.bars is not None else goods
    else:
        names = (*_NEW_STEEL, *_BARS) if line.sort == STEEL else _NEW_GOODS
    return (*names, "cost") if costs else names


def _field(name: str) -> forms.Field:
    words: dict[str, Any] = {
        "grade": (20, "Grade", ""),
        "size": (40, "Size", "2 in, 50 mm"),
        "width": (40, "Width, of a flat", ""),
        "bars": (2000, "Bars", "6 @ 20 ft 1/2 in, 1 @ 5.74 m"),
        "heat_number": (40, "Mill heat number", "as on the tag, or unknown"),
        "mill": (80, "Mill", ""),
        "scale": (40, "Scale", "694 lb, 315 kg"),
        "place": (20, "Place", "a slot, or empty"),
        "item": (120, "Item", "its code"),
        "quantity": (40, "Quantity", "36, 3 dozen, 2 box, 5 lb"),
        "cost": (40, "Landed cost of the line", ""),
        "damage": (300, "Damage seen", "bent, rusted, a seam; empty: none"),
    }
    choices = {
        "certificate": _CERTIFICATE,
        "shape": _SHAPES,
        "unit": _UNITS,
        "measured": _MEASURED,
        "weighed_by": _WEIGHED,
    }
    labels = {
        "certificate": "Certificate",
        "shape": "Shape",
        "unit": "Bare numbers are",
        "measured": "Lengths are",
        "weighed_by": "Weighed by",
    }
    if name == "new_grade":
        return forms.BooleanField(label="a new grade", required=False)
    if name in choices:
        return forms.ChoiceField(label=labels[name], choices=choices[name], required=False)
    longest, label, hint = words[name]
    rows = 1 if name == "bars" else 0
    attrs = {"list": "goods", "autocapitalize": "characters"} if name == "item" else {}
    return Words(longest=longest, rows=rows, label=label, help_text=hint, required=False, attrs=attrs)


class DeliveryForm(SlipForm):
    """One delivery with its lines; fields of a line are called l0_bars, l1_quantity and so on."""

    supplier_paper = Words(longest=60, label="Number on the supplier's paper", required=False)
    note = Words(longest=300, label="Note", required=False)
    happened_at = Moment(label="Came at", help_text="Empty: now.")

    def __init__(
        self, *args: Any, lines: Sequence[PaperLine], order: PurchaseOrder | None, costs: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        self.kept_freight = str(self.initial.get("freight", ""))  # of a draft, for whoever may not see it
        self.ordered = {str(line.number): line for line in order.lines.all()} if order else {}
        self.costs = costs
        if order is not None and order.closed_at is not None:
            self.fields["although_closed"] = forms.BooleanField(
                label=f"Order {order.number} is closed; this came all the same", required=False
            )
        if costs:
            self.fields["freight"] = Words(
                longest=40, label="Freight and cuts", required=False, help_text="shared over the steel by mass"
            )
        for number, line in enumerate(self.lines):
            for name in self.names_of(line):
                field = _field(name)
                field.initial = getattr(line, name) == "yes" if name == "new_grade" else getattr(line, name)
                self.fields[f"l{number}_{name}"] = field
        self._plain_again()

    def _plain_again(self) -> None:
        """Let the fields of the lines speak plainly too; they were added after the others."""
        for field in self.fields.values():
            speak_plainly(field)

    def names_of(self, line: PaperLine) -> tuple[str, ...]:
        """Return the fields of a line."""
        return fields_of(line, self.ordered.get(line.order_line), costs=self.costs)

    def rows(self) -> list[tuple[int, PaperLine, PurchaseOrderLine | None, list[forms.BoundField]]]:
        """Return each line with its number, what was ordered, and its fields."""
        return [
            (n, line, self.ordered.get(line.order_line), [self[f"l{n}_{name}"] for name in self.names_of(line)])
            for n, line in enumerate(self.lines)
        ]

    def paper(self) -> Paper:
        """Return what was typed, to be kept as typed; a field that is not shown keeps what it had."""
        typed = self.cleaned_data
        lines = []
        for number, line in enumerate(self.lines):
            said = {}
            for name in self.names_of(line):
                value = typed.get(f"l{number}_{name}", "")
                said[name] = ("yes" if value else "") if name == "new_grade" else str(value)
            kept = {name: getattr(line, name) for name in PaperLine.__dataclass_fields__}
            lines.append(PaperLine(**{**kept, **said}))
        return Paper(
            lines, typed.get("supplier_paper", ""), typed.get("note", ""), typed.get("freight", self.kept_freight)
        )

    def names(self) -> dict[str, str]:
        """Return the form's name for each field that a refusal may name."""
        return {
            f"lines.{number}.{name}": f"l{number}_{name}"
            for number, line in enumerate(self.lines)
            for name in self.names_of(line)
        }


class NewDeliveryForm(DeliveryForm):
    """A delivery of which nothing is in the book yet: it asks who brought it, too."""

    supplier = Words(longest=120, label="Supplier", attrs={"list": "suppliers"}, help_text="a new name is added")


def sent_lines(post: QueryDict, kept: Sequence[PaperLine]) -> list[PaperLine]:
    """Return the lines that the page had when it was sent; what a field does not show is taken from what was kept."""
    count = units.plain_number(post.get("count"))
    lines = []
    for number in range(len(kept) if count is None else min(count, MOST_LINES)):
        sort = post.get(f"l{number}_sort", "")
        order_line = post.get(f"l{number}_order_line", "")[:6]
        if units.plain_number(order_line) is None:  # a hidden field: nobody types it, and PostgreSQL keeps no NUL
            order_line = ""
        before = kept[number] if number < len(kept) else PaperLine()
        cost = before.cost if before.order_line == order_line else ""
        lines.append(PaperLine(sort=GOODS if sort == GOODS else STEEL, order_line=order_line, measured="no", cost=cost))
    return lines


def first_lines(order: PurchaseOrder | None) -> list[PaperLine]:
    """Return the lines that a new delivery begins with: those of the order that are still to come, or one of steel."""
    if order is None:
        return [AT_THE_LORRY]
    return [
        PaperLine(sort=STEEL if line.bars is not None else GOODS, order_line=str(line.number), measured="no")
        for line in deliveries.to_come(order)
    ] or [AT_THE_LORRY]


def data_of(paper: Paper) -> Mapping[str, str]:
    """Return what a kept draft fills the head of the form with."""
    return {"supplier_paper": paper.supplier_paper, "note": paper.note, "freight": paper.freight}


class MeasureForm(SlipForm):
    """The lengths of the bars that wait at the Door, as many as were taped."""

    unit = forms.ChoiceField(label="Bare numbers are", choices=_UNITS, required=False)
    place = Words(longest=20, label="Slot", required=False, help_text="empty: the rack", attrs={"list": "slots"})

    def __init__(self, *args: Any, bars: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bars = list(bars)
        for bar in self.bars:
            self.fields[f"bar_{bar.pk}"] = Words(longest=40, label=f"bar {bar.number}", required=False)

    def rows(self) -> list[tuple[Any, forms.BoundField]]:
        """Return each bar with its field."""
        return [(bar, self[f"bar_{bar.pk}"]) for bar in self.bars]

    def lengths(self) -> dict[Any, str]:
        """Return the bars that were taped and what was typed."""
        return {bar: self.cleaned_data[f"bar_{bar.pk}"] for bar in self.bars if self.cleaned_data[f"bar_{bar.pk}"]}

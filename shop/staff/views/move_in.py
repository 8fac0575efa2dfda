"""Moving in: a table of what was there before the book, looked at first and then moved in."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from shop.access.middleware import Here
from shop.flows import moving_in
from shop.flows.moving_in import KINDS, MOST_REPORTED, Report
from shop.shared import shop_row, tables, transactions
from shop.shared.errors import Invalid
from shop.staff import posting
from shop.staff.fields import SlipForm
from shop.staff.forms import attempt
from shop.staff.ruled import Column, Ruled

ROOM = "door"
MOST_SENT_AGAIN = 500_000  # a larger file is chosen again for the second step
_KINDS = [
    ("items", "items: what is kept, with prices"),
    ("customers", "customers"),
    ("stock", "stock: bars, blanks, heads at their step, handles, tools, consumables"),
    ("orders", "orders: taken already, with the days given"),
]
_EXAMPLES = {
    "items": "code\tname\tkind\tbuy unit\tper buy unit\tretail price\nHD-14\tHandle 14 in\thandle\tdozen\t12\t9.50",
    "customers": "name\tkind\taddress\nTarn and Thrupp\tdealer\t4 Weir Row, Saltby",
    "stock": "item\tgrade\tshape\tsize\tquantity\tmill heat number\n\t1045\tround\t2 in\t3 @ 20 ft\tunknown\nHD-14\t\t\t\t3 dozen\t",
    "orders": "order\tcustomer\titem\tquantity\tprice\tday given\n1041\tTarn and Thrupp\tHD-14\t12\t7.50\t2026-12-17",
}


class TableField(forms.CharField):
    """A table as it was pasted; nothing is stripped, because a tab at the end is a field."""

    def __init__(self, **kwargs: Any) -> None:
        attrs = {"rows": 14, "wrap": "off", "spellcheck": "false", "autocomplete": "off"}
        super().__init__(strip=False, widget=forms.Textarea(attrs=attrs), **kwargs)


class MoveInForm(SlipForm):
    """The table: pasted, or a file."""

    kind = forms.ChoiceField(label="This is a table of", choices=_KINDS)
    table = TableField(label="Table", required=False, help_text="paste cells here; the first line names the columns")
    file = forms.FileField(label="or a file of text (CSV)", required=False, allow_empty_file=True)

    def given(self) -> str | bytes:
        """Return what was pasted, or the file where nothing was."""
        table: str = self.cleaned_data["table"]
        upload = self.cleaned_data["file"]
        if table.strip() or upload is None:
            return table
        if upload.size > tables.MOST_BYTES:
            raise Invalid.field("table", "Table: it is larger than 10 MB; move it in as several tables.")
        content: bytes = upload.read()
        return content


def move_in(request: HttpRequest) -> HttpResponse:
    """Look at a table line by line, and move it in when every line is right."""
    here = posting.here_of(request)
    form = MoveInForm(here.POST if here.method == "POST" else None, here.FILES or None, shop=shop_row.the_shop())
    report: Report | None = None
    if here.method == "POST" and form.is_valid():
        given = attempt(form, form.given)
        if given is not None and here.POST.get("do") == "move":
            done = posting.book(here, form, lambda who: _move(form, given, who))
            if done:
                return done
        if given is not None:
            report = _look(here, form, given)
    return posting.sheet(here, "staff/move_in/move_in.html", ROOM, _facts(form, report), form=form)


class NotAsItStands(Invalid):
    """Some lines of the table are wrong."""

    code = "table_wrong"


def _move(form: MoveInForm, given: str | bytes, who: posting.Doing) -> tuple[str, str]:
    kind = form.cleaned_data["kind"]
    report = moving_in.move_in(kind, given, stamp=who.stamp(reason="moved in"))
    if not report.written:
        lines = "1 line is" if len(report.wrong) == 1 else f"{len(report.wrong)} lines are"
        raise NotAsItStands(f"{lines} not right yet, so nothing was moved in.")
    return reverse("staff:move_in"), f"Moved in as number {report.number}: {len(report.lines)} lines of {kind}."


def _look(here: Here, form: MoveInForm, given: str | bytes) -> Report | None:
    stamp = posting.doing(here).stamp()
    said = {name: list(errors) for name, errors in form.errors.items()}
    if "table" in said:
        return None
    with transactions.entry_point():
        try:
            return moving_in.look(form.cleaned_data["kind"], given, stamp=stamp)
        except Invalid as refusal:
            form.add_error("table", refusal.sentence.removeprefix("Table: ").capitalize())
        except moving_in.MovedInAlready as refusal:
            if not form.errors:
                form.add_error("table", refusal.sentence)
    return None


def _facts(form: MoveInForm, report: Report | None) -> dict[str, object]:
    shown = sorted(report.lines, key=lambda line: (not line.wrong, line.number))[:MOST_REPORTED] if report else []
    rows = [
        [
            str(line.number),
            line.said or "; ".join(f"{column}: {said}" if column else said for column, said in line.wrong.items()),
        ]
        for line in shown
    ]
    return {
        "report": report,
        "text": _as_text(form, report),
        "wrong": len(report.wrong) if report else 0,
        "again": bool(report and form.cleaned_data.get("file") and not _as_text(form, report)),
        "right": report is not None and not report.wrong,
        "table": Ruled("What the table makes", [Column("line", figures=True), Column("what")], rows),
        "columns": [(words, ", ".join(KINDS[kind].columns), _EXAMPLES[kind]) for kind, words in _KINDS],
    }


def _as_text(form: MoveInForm, report: Report | None) -> str:
    """Return a file that was looked at as text, so that the second step sends what the first one saw."""
    upload = form.cleaned_data.get("file") if report and form.is_bound else None
    if upload is None or upload.size > MOST_SENT_AGAIN or form.cleaned_data.get("table", "").strip():
        return ""
    upload.seek(0)
    content: str = upload.read().decode("utf-8-sig")
    return content

"""What is still owed: all customers or one, on a page and as a table for a spreadsheet."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.queries import customers, owed
from orders.queries.owed import Owed
from shop.shared import clock, csvs, shop_row
from shop.staff import posting, wording
from shop.staff.fields import SlipForm
from shop.staff.ruled import Column, Ruled
from shop.staff.views.counter_history import link


class KindForm(SlipForm):
    """Of whom."""

    kind = forms.ChoiceField(
        label="Of whom",
        choices=[("", "everybody"), ("dealer", "dealers"), ("one-off", "one-off customers")],
        required=False,
    )


def everybody(request: HttpRequest) -> HttpResponse:
    """List every line still owed, of everybody or of one kind of customer."""
    here = posting.here_of(request)
    form = KindForm(here.GET, shop=shop_row.the_shop())
    kind = form.cleaned_data["kind"] if form.is_valid() else ""
    rows = owed.rows(owed.lines(kind=kind or None))
    facts = {
        "table": _table(rows, named=True),
        "said": _said(rows),
        "of": "",
        "csv": reverse("staff:counter_owed_csv") + (f"?kind={kind}" if kind else ""),
    }
    return posting.sheet(here, "staff/counter/owed.html", "counter", facts, form=form)


def of_customer(request: HttpRequest, number: int) -> HttpResponse:
    """List every line still owed to one customer."""
    here, found = posting.here_of(request), customers.find(number)
    if found is None:
        return posting.not_there(here)
    rows = owed.rows(owed.lines(customer=found.pk))
    facts = {
        "table": _table(rows, named=False),
        "said": _said(rows),
        "of": found.name,
        "customer": found,
        "csv": reverse("staff:customer_owed_csv", args=[found.pk]),
    }
    return posting.sheet(here, "staff/counter/owed.html", "counter", facts)


def everybody_csv(request: HttpRequest) -> HttpResponse:
    """Return every line still owed as a table for a spreadsheet."""
    form = KindForm(request.GET, shop=shop_row.the_shop())
    kind = form.cleaned_data["kind"] if form.is_valid() else ""
    return _csv(owed.rows(owed.lines(kind=kind or None)), "still-owed.csv")


def of_customer_csv(request: HttpRequest, number: int) -> HttpResponse:
    """Return every line still owed to one customer as a table for a spreadsheet."""
    here, found = posting.here_of(request), customers.find(number)
    if found is None:
        return posting.not_there(here)
    return _csv(owed.rows(owed.lines(customer=found.pk)), f"still-owed-{found.pk}.csv")


def _csv(rows: list[Owed], name: str) -> HttpResponse:
    answer = HttpResponse(owed.table(rows, zone=shop_row.the_shop().zone), content_type=csvs.MEDIA_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _said(rows: list[Owed]) -> str:
    if not rows:
        return "Nothing is owed."
    today = clock.local_date(clock.now(), shop_row.the_shop().zone)
    orders = len({one.line.order_id for one in rows})
    late = sum(1 for one in rows if one.day is not None and one.day < today)
    past = f" The day given has passed for {late} of them." if late else ""
    lines = f"{len(rows)} {'line' if len(rows) == 1 else 'lines'}"
    return f"{lines} of {orders} {'order' if orders == 1 else 'orders'}.{past}"


def _table(rows: list[Owed], *, named: bool) -> Ruled:
    columns = [Column("order"), *([Column("for")] if named else []), Column("what"), Column("still owed", figures=True)]
    columns += [Column("set aside", figures=True), Column("day given"), Column("window")]
    return Ruled("Still owed", columns, [_cells(one, named=named) for one in rows])


def _cells(one: Owed, *, named: bool) -> list[object]:
    line, order = one.line, one.line.order
    who: list[object] = [link("staff:customer_owed", order.customer.name, order.customer_id)] if named else []
    return [
        link("staff:order", str(order.number), order.number),
        *who,
        wording.line_name(line),
        wording.figures(one.left),
        wording.figures(line.reserved) if line.reserved else "",
        wording.on_day(one.day).replace(" ", "\u00a0") if one.day else "none",
        wording.window(order),
    ]

"""Who buys: the list, one customer with what they ordered, a new one."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import Customer
from orders.queries import book
from orders.queries import customers as queries
from orders.services import customers as services
from shop.shared import shop_row
from shop.shared.units import money
from shop.staff import posting, wording
from shop.staff.fields import typed_amount
from shop.staff.ruled import Column, Ruled
from shop.staff.views import counter_forms as forms
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link

_MOST = 200


def customers(request: HttpRequest) -> HttpResponse:
    """List the customers by name; find one by part of it."""
    here = posting.here_of(request)
    shop = shop_row.the_shop()
    form = forms.FindForm(here.GET, shop=shop)
    find = form.cleaned_data["find"] if form.is_valid() else ""
    found = queries.listed()
    if find:
        found = found.filter(name__icontains=find)
    columns = [Column("name"), Column("is"), Column("telephone"), Column("terms"), Column("orders")]
    rows = [
        [
            link("staff:customer", one.name, one.pk),
            one.kind + ("" if one.active else ", no more"),
            one.phone,
            one.terms,
            _agreed(one, shop.currency),
        ]
        for one in found[:_MOST]
    ]
    facts = {"table": Ruled("Customers", columns, rows), "find": find}
    return posting.sheet(here, "staff/counter/customers.html", "counter", facts, form=form)


def customer(request: HttpRequest, number: int) -> HttpResponse:
    """Show and change what is known of a customer."""
    here, found, shop = posting.here_of(request), queries.find(number), shop_row.the_shop()
    if found is None:
        return posting.not_there(here)
    first = {name: getattr(found, name) for name in forms.CustomerForm.base_fields}
    first["minimum_minor"] = typed_amount(found.minimum_minor, shop.currency) if found.minimum_minor else ""
    form = forms.CustomerForm(here.POST if here.method == "POST" else None, shop=shop, initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        services.change(found, at=who.at, by=who.by, **form.facts())
        return reverse("staff:customer", args=[found.pk]), f"{form.cleaned_data['name']} is written down."

    back = reverse("staff:counter_customers")
    lead = "Orders that were taken keep the address they were taken with."
    owed = (reverse("staff:customer_owed", args=[found.pk]), "Still owed")
    asked = Ask(first["name"], lead, "Write it down", back, "All customers", table=_orders(found), read=owed)
    return ask(here, form, asked, act)


def customer_new(request: HttpRequest) -> HttpResponse:
    """Write a new customer down."""
    here = posting.here_of(request)
    form = forms.CustomerForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        facts = {name: value for name, value in form.facts().items() if name != "active"}
        made = services.add(at=who.at, by=who.by, **facts)
        return reverse("staff:customer", args=[made.pk]), f"{made.name} is written down."

    back = reverse("staff:counter_customers")
    return ask(here, form, Ask("A new customer", "", "Write it down", back, "All customers"), act)


def _agreed(one: Customer, currency: str) -> str:
    said = [f"{money(one.minimum_minor, currency)} or more"] if one.minimum_minor else []
    return ", ".join([*said, *([] if one.takes_parts else ["only whole"])])


def _orders(found: Customer) -> Ruled:
    columns = [Column("order"), Column("what"), Column("how far")]
    rows = []
    for row in book.rows(list(found.orders.order_by("-number")[:20])):
        sent = sum(line.shipped for line in row.lines)
        rows.append(
            [
                link("staff:order", str(row.order.number), row.order.number),
                wording.what(row.lines),
                wording.stands(row.owed, row.set_aside, row.to_make, sent),
            ]
        )
    return Ruled(f"Orders of {found.name}", columns, rows)

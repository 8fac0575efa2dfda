"""Suppliers: who they are, what they ask, and what their goods cost."""

import re

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Freight, Item, Supplier, SupplierPrice
from inventory.services import purchasing
from inventory.services import supplier_terms as services
from inventory.services.supplier_terms import Step
from shop.shared import clock, shop_row, units
from shop.shared.errors import Invalid
from shop.shared.models import Shop
from shop.staff import posting, wording
from shop.staff.fields import Amount, Length, SlipForm, Whole, Words, typed_amount
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link

ROOM = "door"
_STEP = re.compile(r"from\s+(?P<start>.+?)\s*:\s*(?P<price>.+)", re.IGNORECASE)


def suppliers(request: HttpRequest) -> HttpResponse:
    """List the suppliers, and add one."""
    here = posting.here_of(request)
    form = NewSupplierForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        made = purchasing.add_supplier(typed["name"], email=typed["email"], phone=typed["phone"], at=who.at, by=who.by)
        return reverse("staff:supplier_terms", args=[made.pk]), f"{made.name} is in the book."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act)
        if done:
            return done
    found = Supplier.objects.order_by("name")
    columns = [Column("who"), Column("e-mail"), Column("phone"), Column("goods", figures=True)]
    rows = [
        [link("staff:supplier", one.name, one.pk), one.email, one.phone, one.items.filter(active=True).count()]
        for one in found
    ]
    return posting.sheet(
        here, "staff/door/suppliers.html", ROOM, {"table": Ruled("Suppliers", columns, rows)}, form=form
    )


class NewSupplierForm(SlipForm):
    """A firm that sells to the shop."""

    name = Words(longest=120, label="Name")
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    phone = Words(longest=40, label="Phone", required=False)


class TermsForm(SlipForm):
    """What a supplier asks."""

    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    phone = Words(longest=40, label="Phone", required=False)
    lead_days = Whole(
        label="Days until it comes",
        required=False,
        least=0,
        most=730,
        help_text="Believed until deliveries teach better.",
    )
    min_order = Amount(label="Smallest order", required=False)
    order_cost = Amount(label="An order costs you", required=False, help_text="Empty: as for every supplier.")
    freight = Words(
        longest=600, rows=3, label="Carriage", required=False,
        help_text="One step a line: 9.00, or from 300.00: 0, or from 200 lb: 30.00.",
    )  # fmt: skip


def terms(request: HttpRequest, number: int) -> HttpResponse:
    """Change what a supplier asks."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    found = Supplier.objects.filter(pk=number).first()
    if found is None:
        return posting.not_there(here)
    cost = found.order_cost_minor
    first = {
        "email": found.email, "phone": found.phone, "lead_days": found.lead_days,
        "min_order": typed_amount(found.min_order_minor, shop.currency),
        "order_cost": "" if cost is None else typed_amount(cost, shop.currency), "freight": _written(found, shop.currency),
    }  # fmt: skip
    form = TermsForm(here.POST if here.method == "POST" else None, shop=shop, initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchasing.change_supplier(found, at=who.at, by=who.by, email=typed["email"], phone=typed["phone"])
        services.set_terms(
            found, min_order_minor=typed["min_order"] or 0, order_cost_minor=typed["order_cost"], lead_days=typed["lead_days"],
            freight=steps(typed["freight"], shop), at=who.at, by=who.by,
        )  # fmt: skip
        return reverse("staff:supplier", args=[found.pk]), f"The terms of {found.name} are kept."

    asked = Ask(
        found.name, "What they ask. The reckoning of orders goes by it.", "Keep the terms",
        reverse("staff:supplier", args=[found.pk]), "Back to the supplier", room=ROOM, part="Terms",
    )  # fmt: skip
    return ask(here, form, asked, act)


def _written(supplier: Supplier, currency: str) -> str:
    lines = []
    for one in Freight.objects.filter(supplier=supplier).order_by("from_mass_mg", "from_minor"):
        price = typed_amount(one.freight_minor, currency)
        start = typed_amount(one.from_minor, currency) if one.from_minor else ""
        start = units.mass_lb(one.from_mass_mg, figures=12) if one.from_mass_mg else start
        lines.append(f"from {start}: {price}" if start else price)
    return "\n".join(lines)


def steps(text: str, shop: Shop) -> list[Step]:
    """Read carriage as it is typed, one step a line."""
    exponent = units.money_exponent(shop.currency)
    found = []
    for line in text.splitlines():
        if not line.strip():
            continue
        step = _STEP.fullmatch(line.strip())
        price = units.parse_money(step["price"] if step else line.strip(), exponent, field="freight").minor
        if step is None:
            found.append(Step(price))
        elif re.search(r"[a-z]", step["start"], re.IGNORECASE):
            found.append(Step(price, from_mass_mg=units.parse_mass(step["start"], field="freight").mg))
        else:
            found.append(Step(price, from_minor=units.parse_money(step["start"], exponent, field="freight").minor))
    return found


class PriceForm(SlipForm):
    """What one of something costs."""

    item = Words(longest=30, label="Item", required=False, attrs={"list": "goods"})
    length = Length(label="Length of a bar", required=False, help_text="20 ft, 6 m; empty for what is no bar.")
    from_qty = Whole(
        label="From how many",
        required=False,
        least=1,
        most=1_000_000,
        help_text="Bought: dozens, boxes, bars. Empty: 1.",
    )
    price = Amount(label="Price of one", required=False, help_text="Of one dozen, box, bar.")
    bundle = Whole(label="Sold only by", required=False, least=1, most=10_000, help_text="Empty: singly.")
    take = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1, max_value=2_000_000_000)


def prices(request: HttpRequest, number: int) -> HttpResponse:
    """List a supplier's prices, note one, take one away."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    found = Supplier.objects.filter(pk=number).first()
    if found is None:
        return posting.not_there(here)
    form = PriceForm(here.POST if here.method == "POST" else None, shop=shop)
    back = reverse("staff:supplier_prices", args=[found.pk])

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        if typed["take"]:
            services.take_price_away(found, typed["take"], at=who.at, by=who.by)
            return back, "The price is taken away."
        item = Item.objects.filter(code__iexact=typed["item"], active=True).first()
        if item is None:
            raise Invalid.field("item", f"{typed['item'][:30]!r} is no item; choose one of the list.")
        if typed["price"] is None:
            raise Invalid.field("price", "Price of one: write an amount.")
        services.note_price(
            found, item, typed["price"], length_nm=typed["length"] or 0, from_qty=typed["from_qty"] or 1,
            bundle=typed["bundle"] or 1, noted_on=clock.local_date(who.at, shop.zone), at=who.at, by=who.by,
        )  # fmt: skip
        return back, f"The price of {item.code} is noted."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act)
        if done:
            return done
    rows = (
        SupplierPrice.objects.filter(supplier=found)
        .select_related("item")
        .order_by("item__code", "length_nm", "from_qty")
    )
    facts = {
        "supplier": found,
        "prices": [(one, _said(one, shop.currency)) for one in rows],
        "goods": Item.objects.filter(active=True, supplier=found).order_by("code")[:500],
    }
    return posting.sheet(here, "staff/door/supplier_prices.html", ROOM, facts, form=form)


def _said(one: SupplierPrice, currency: str) -> str:
    """Say a price: 60.00 USD a dozen from 5 on, sold by 2, noted 3 Mar."""
    unit = f"bar of {units.length_inches(one.length_nm)}" if one.length_nm else one.item.buy_unit or "piece"
    said = f"{units.money(one.price_minor, currency)} a {unit}"
    if one.from_qty > 1:
        said += f" from {wording.figures(one.from_qty)} on"
    if one.bundle > 1:
        said += f", sold by {wording.figures(one.bundle)}"
    return f"{said}, noted {wording.on_day(one.noted_on)}."

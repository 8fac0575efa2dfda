"""Who buys, as lists show it: the customer that stands for the shop's own releases is none of them."""

from django.db.models import Exists, OuterRef, QuerySet

from orders.models import OWN_SOURCE, Customer, Order


def listed() -> QuerySet[Customer]:
    """Select those who buy, by name."""
    own = Order.objects.filter(customer=OuterRef("pk"), source=OWN_SOURCE)
    return Customer.objects.filter(~Exists(own)).order_by("name", "id")


def find(number: int) -> Customer | None:
    """Return one of those who buy."""
    return listed().filter(pk=number).first()

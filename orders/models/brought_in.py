"""What a customer brings to be mended, and which run makes what an order line asks for in words."""

from django.db import models
from django.db.models import F, Q

from inventory.models import Entry, Item, Run
from orders.models.customers import Customer
from orders.models.orders import OrderLine
from shop.access.models import Person


class RunForLine(models.Model):
    """A run of one or two that was started for a line made to order."""

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="for_line")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="runs")
    qty = models.PositiveIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(qty__gte=1), name="run_for_line_quantity")]


class BroughtIn(models.Model):
    """A customer's own tool, here for repair or a new handle; it is never stock. What the shop used on it is."""

    number = models.PositiveIntegerField(unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="brought_in")
    what = models.CharField(max_length=120)
    wanted = models.CharField(max_length=300)
    handle = models.ForeignKey(Item, null=True, on_delete=models.PROTECT, related_name="+")
    wedge = models.ForeignKey(Item, null=True, on_delete=models.PROTECT, related_name="+")
    came_at = models.DateTimeField()
    ready_by = models.DateField(null=True)
    price_minor = models.BigIntegerField(null=True)
    minutes = models.PositiveIntegerField(null=True)
    done_at = models.DateTimeField(null=True)
    given_back_at = models.DateTimeField(null=True)
    entry = models.OneToOneField(
        Entry, null=True, on_delete=models.PROTECT, related_name="brought_in", help_text="what was used on it"
    )
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(price_minor=None) | Q(price_minor__gte=0), name="brought_in_price"),
            models.CheckConstraint(
                condition=Q(given_back_at=None) | Q(done_at__isnull=False, given_back_at__gte=F("came_at")),
                name="brought_in_given_back_when_done",
            ),
        ]

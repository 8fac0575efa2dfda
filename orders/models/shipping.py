"""What was sent and what came back."""

from django.db import models
from django.db.models import F, Q

from inventory.models import Entry
from orders.models.orders import Order, OrderLine
from shop.access.models import Person


class Shipment(models.Model):
    """Parcels that left for one order."""

    number = models.PositiveIntegerField(unique=True)
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="shipments")
    sent_at = models.DateTimeField()
    carrier = models.CharField(max_length=60, blank=True)
    tracking = models.CharField(max_length=80, blank=True)
    ship_to = models.TextField(max_length=600, help_text="where it went, as it stood then")
    parcels = models.PositiveSmallIntegerField(default=1)
    computed_mass_mg = models.BigIntegerField(null=True, help_text="worked out, not weighed")
    scale_mass_mg = models.BigIntegerField(null=True)
    scale_typed = models.CharField(max_length=40, blank=True)
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, null=True, on_delete=models.PROTECT, related_name="shipment")
    reversed_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(parcels__gte=1), name="shipment_parcels")]
        indexes = [models.Index(fields=["order", "id"], name="shipment_order")]


class ShipmentLine(models.Model):
    """How much of an order line went in a shipment."""

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="lines")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="shipment_lines")
    qty = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shipment", "line"], name="shipment_line_once"),
            models.CheckConstraint(condition=Q(qty__gte=1), name="shipment_line_quantity"),
        ]


class ShippedLot(models.Model):
    """Which lot went out on which shipment line: the last link of the trace."""

    shipment_line = models.ForeignKey(ShipmentLine, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey("inventory.Lot", on_delete=models.PROTECT, related_name="shipped_as")
    qty = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shipment_line", "lot"], name="shipped_lot_once"),
            models.CheckConstraint(condition=Q(qty__gte=1), name="shipped_lot_quantity"),
        ]


class Return(models.Model):
    """Tools a customer sent back: to inspection first, never straight to the shelf."""

    number = models.PositiveIntegerField(unique=True)
    shipment_line = models.ForeignKey(ShipmentLine, on_delete=models.PROTECT, related_name="returns")
    qty = models.BigIntegerField()
    inspected = models.BigIntegerField(default=0)
    why = models.CharField(max_length=300)
    came_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="+")
    reversed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(qty__gte=1, inspected__gte=0, inspected__lte=F("qty")), name="return_quantity"
            )
        ]


class ReturnOutcome(models.Model):
    """What inspection decided for some of a return."""

    class Outcome(models.TextChoices):
        FIRST = "first"
        SECOND = "second"
        REHAFT = "re-haft"
        REPLACED = "replaced"
        SCRAP = "scrap"

    returned = models.ForeignKey(Return, on_delete=models.PROTECT, related_name="outcomes")
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    qty = models.BigIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, null=True, on_delete=models.PROTECT, related_name="+")
    replacement = models.ForeignKey(OrderLine, null=True, on_delete=models.PROTECT, related_name="+")
    reversed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(qty__gte=1), name="return_outcome_quantity"),
            models.CheckConstraint(
                condition=Q(outcome__in=["first", "second", "re-haft", "replaced", "scrap"]),
                name="return_outcome_words",
            ),
        ]

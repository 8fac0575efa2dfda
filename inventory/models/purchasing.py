"""Suppliers, purchase orders and deliveries; the lead-time record starts with these dates."""

from django.db import models
from django.db.models import Q

from inventory.models.items import Item
from inventory.models.steel import Melt
from inventory.models.stock import Entry
from shop.access.models import Person


class Supplier(models.Model):
    """A firm that sells to the shop."""

    name = models.CharField(max_length=120, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    claim_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="working days to claim a shortage")

    def __str__(self) -> str:
        return self.name


class PurchaseOrder(models.Model):
    """What was ordered from a supplier, when, and for when it was confirmed."""

    number = models.PositiveIntegerField(unique=True)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="purchase_orders")
    ordered_on = models.DateField()
    wanted_on = models.DateField(null=True)
    confirmed_on = models.DateField(null=True)
    closed_at = models.DateTimeField(null=True)
    note = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1)


class PurchaseOrderLine(models.Model):
    """One item of a purchase order; quantity in the item's own unit, received kept by the delivery service."""

    order = models.ForeignKey(PurchaseOrder, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    qty = models.BigIntegerField()
    bars = models.PositiveSmallIntegerField(null=True, help_text="for steel: how many bars")
    received = models.BigIntegerField(default=0)
    received_bars = models.PositiveSmallIntegerField(default=0)
    typed = models.CharField(max_length=60, blank=True)
    price_minor = models.BigIntegerField(null=True, help_text="for the whole line")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="purchase_line_once"),
            models.CheckConstraint(condition=Q(qty__gte=1, received__gte=0), name="purchase_line_quantity"),
        ]


class Delivery(models.Model):
    """Goods from a supplier, with or without a purchase order; a draft until booked, booked once."""

    class State(models.TextChoices):
        DRAFT = "draft"
        BOOKED = "booked"
        REVERSED = "reversed"

    number = models.PositiveIntegerField(unique=True)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="deliveries")
    order = models.ForeignKey(PurchaseOrder, null=True, on_delete=models.PROTECT, related_name="deliveries")
    state = models.CharField(max_length=8, choices=State.choices, default=State.DRAFT)
    draft = models.JSONField(default=dict, help_text="what has been typed so far, as typed")
    note = models.CharField(max_length=300, blank=True)
    supplier_paper = models.CharField(max_length=60, blank=True, help_text="number on the supplier's slip")
    happened_at = models.DateTimeField(null=True)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, null=True, on_delete=models.PROTECT, related_name="delivery")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state="draft", entry=None) | Q(state__in=["booked", "reversed"], entry__isnull=False),
                name="delivery_booked_has_entry",
            )
        ]


class DeliveryLine(models.Model):
    """One line of a booked delivery; for steel one line per melt and section with its bars as lots."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    order_line = models.ForeignKey(PurchaseOrderLine, null=True, on_delete=models.PROTECT, related_name="deliveries")
    melt = models.ForeignKey(Melt, null=True, on_delete=models.PROTECT, related_name="delivery_lines")
    qty = models.BigIntegerField()
    bars = models.PositiveSmallIntegerField(null=True)
    typed = models.CharField(max_length=300, blank=True)
    scale_mass_mg = models.BigIntegerField(null=True)
    scale_typed = models.CharField(max_length=40, blank=True)
    weighed_by = models.CharField(max_length=20, blank=True)
    computed_mass_mg = models.BigIntegerField(null=True)
    cost_minor = models.BigIntegerField(null=True)
    damage = models.CharField(max_length=300, blank=True, help_text="what was seen at the lorry")
    answer = models.CharField(
        max_length=20, blank=True, help_text="accepted, accepted with a note, not to be used, refused"
    )
    answer_note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["delivery", "number"], name="delivery_line_once"),
            models.CheckConstraint(
                condition=Q(answer__in=["", "accepted", "accepted with a note", "not to be used", "refused"]),
                name="delivery_line_answer",
            ),
            models.CheckConstraint(condition=Q(qty__gte=1), name="delivery_line_quantity"),
        ]

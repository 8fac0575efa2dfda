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
    lead_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="calendar days from order to arrival, believed until deliveries teach better"
    )
    min_order_minor = models.BigIntegerField(default=0, help_text="it takes no order below this value")
    order_cost_minor = models.BigIntegerField(null=True, blank=True, help_text="what one order costs the shop")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(min_order_minor__gte=0) & (Q(order_cost_minor=None) | Q(order_cost_minor__gte=0)),
                name="supplier_terms",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Freight(models.Model):
    """What a supplier asks for carriage of an order from a value or a mass on; of each the last step reached holds, and the dearer of both."""

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="freight")
    from_minor = models.BigIntegerField(default=0)
    from_mass_mg = models.BigIntegerField(default=0)
    freight_minor = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["supplier", "from_minor", "from_mass_mg"], name="freight_once"),
            models.CheckConstraint(
                condition=Q(from_minor__gte=0, from_mass_mg__gte=0, freight_minor__gte=0)
                & (Q(from_minor=0) | Q(from_mass_mg=0)),
                name="freight_step",
            ),
        ]


class SupplierPrice(models.Model):
    """What a supplier asks for an item from a quantity on: for one unit bought, or for one bar of a length it sells."""

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="prices")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="prices")
    length_nm = models.BigIntegerField(default=0, help_text="of a bar as sold; 0 for what is no bar")
    from_qty = models.PositiveIntegerField(default=1, help_text="units bought, or bars")
    price_minor = models.BigIntegerField(help_text="for one unit bought, or one bar")
    bundle = models.PositiveSmallIntegerField(default=1, help_text="sold only by so many")
    noted_on = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["supplier", "item", "length_nm", "from_qty"], name="supplier_price_once"),
            models.CheckConstraint(
                condition=Q(length_nm__gte=0, from_qty__gte=1, price_minor__gte=0, bundle__gte=1),
                name="supplier_price_figures",
            ),
        ]


class PurchaseOrder(models.Model):
    """What was ordered from a supplier, when, and for when it was confirmed."""

    class Sent(models.TextChoices):
        PRINTED = "printed"
        EMAIL = "e-mail"
        PHONE = "phone"

    number = models.PositiveIntegerField(unique=True)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="purchase_orders")
    ordered_on = models.DateField()
    wanted_on = models.DateField(null=True)
    confirmed_on = models.DateField(null=True)
    first_confirmed_on = models.DateField(null=True, help_text="the day first promised, kept when a later one is")
    sent_how = models.CharField(max_length=8, choices=Sent.choices, blank=True)
    sent_at = models.DateTimeField(null=True)
    sent_to = models.EmailField(blank=True)
    asked_on = models.DateField(null=True, help_text="when the supplier was last asked where it is")
    cut_plan = models.ForeignKey(
        "inventory.CutPlan", null=True, on_delete=models.PROTECT, related_name="purchase_orders"
    )
    closed_at = models.DateTimeField(null=True)
    note = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(sent_how="", sent_at=None, sent_to="")
                | (Q(sent_how__in=["printed", "phone"], sent_at__isnull=False, sent_to=""))
                | (Q(sent_how="e-mail", sent_at__isnull=False) & ~Q(sent_to="")),
                name="purchase_order_sent",
            )
        ]


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

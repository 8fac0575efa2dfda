"""The order book: orders, their lines, money received and what is put by without an order."""

from django.db import models
from django.db.models import F, Q

from inventory.models import Allocation, Item, Pattern
from orders.models.customers import Customer
from shop.access.models import Person

PROGRAM_SOURCE = "api"


class Order(models.Model):
    """An order with its own ship-to, changeable until the last piece is sent."""

    number = models.PositiveIntegerField(unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="orders")
    reference = models.CharField(max_length=80, blank=True, help_text="the customer's own reference")
    ship_to = models.TextField(max_length=600, blank=True)
    gift = models.BooleanField(default=False)
    gift_note = models.CharField(max_length=300, blank=True)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=20, default="desk")
    start_when_deposit = models.BooleanField(default=False)
    deposit_minor = models.BigIntegerField(default=0)
    send_when_paid = models.BooleanField(default=False)
    carriage_minor = models.BigIntegerField(default=0)
    received_minor = models.BigIntegerField(default=0, help_text="sum of the money lines")
    note = models.CharField(max_length=300, blank=True)
    not_before = models.DateField(null=True, help_text="first day of the customer's window")
    not_after = models.DateField(null=True, help_text="last day of the customer's window")
    said_until = models.DateField(null=True, help_text="said on the phone: let go after this day unless confirmed")
    let_go_at = models.DateTimeField(null=True, help_text="said on the phone and not confirmed in time")
    closed_at = models.DateTimeField(null=True, help_text="nothing is owed any more")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(deposit_minor__gte=0, carriage_minor__gte=0), name="order_money"),
            models.CheckConstraint(
                condition=Q(not_before=None) | Q(not_after=None) | Q(not_before__lte=F("not_after")),
                name="order_window",
            ),
        ]
        indexes = [
            models.Index(fields=["number"], name="order_open", condition=Q(closed_at=None)),
            models.Index(fields=["customer", "id"], name="order_customer"),
            models.Index(fields=["said_until"], name="order_said_until", condition=Q(said_until__isnull=False)),
        ]


class OrderLine(models.Model):
    """Ordered = shipped + cancelled + reserved + waiting; the rest of a line waits."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    item = models.ForeignKey(Item, null=True, on_delete=models.PROTECT, related_name="order_lines")
    words = models.CharField(max_length=300, blank=True, help_text="made to order: what is to be made")
    file = models.CharField(max_length=200, blank=True, help_text="made to order: name of the kept file")
    file_name = models.CharField(max_length=120, blank=True, help_text="the file's own name, only to be shown")
    pattern = models.ForeignKey(Pattern, null=True, on_delete=models.PROTECT, related_name="+")
    options = models.CharField(
        max_length=120, blank=True, help_text="how an item is wanted: 16 in handle, name stamped"
    )
    ordered = models.BigIntegerField()
    shipped = models.BigIntegerField(default=0)
    cancelled = models.BigIntegerField(default=0)
    reserved = models.BigIntegerField(default=0)
    whole = models.BooleanField(default=False, help_text="goes in one piece or not at all")
    price_minor = models.BigIntegerField(default=0, help_text="agreed, for one")
    one_off = models.BooleanField(default=False, help_text="will not come again; the forecast leaves it out")
    queue_no = models.BigIntegerField(unique=True, help_text="place in the queue")
    gathers = models.BooleanField(default=False, help_text="waits and takes pieces as they come free")
    allocation = models.OneToOneField(
        Allocation, null=True, on_delete=models.PROTECT, related_name="order_line", help_text="open while reserved > 0"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="order_line_once"),
            models.CheckConstraint(
                condition=Q(ordered__gte=1, shipped__gte=0, cancelled__gte=0, reserved__gte=0, price_minor__gte=0),
                name="order_line_quantities",
            ),
            models.CheckConstraint(
                condition=Q(ordered__gte=F("shipped") + F("cancelled") + F("reserved")), name="order_line_adds_up"
            ),
            models.CheckConstraint(
                condition=Q(item__isnull=False, words="") | (Q(item=None) & ~Q(words="")),
                name="order_line_item_or_words",
            ),
            models.CheckConstraint(
                condition=Q(options="") | Q(item__isnull=False), name="order_line_options_go_with_item"
            ),
            models.CheckConstraint(
                condition=Q(file="", file_name="") | (~Q(words="") & ~Q(file="") & ~Q(file_name="")),
                name="order_line_file_goes_with_words",
            ),
            models.CheckConstraint(
                condition=Q(reserved=0) | Q(allocation__isnull=False), name="order_line_reserved_has_allocation"
            ),
            models.CheckConstraint(
                condition=Q(gathers=False)
                | Q(item__isnull=False, ordered__gt=F("shipped") + F("cancelled") + F("reserved")),
                name="order_line_gathers_only_while_it_waits",
            ),
        ]
        indexes = [
            models.Index(fields=["item", "queue_no"], name="order_line_queue", condition=Q(gathers=True)),
        ]

    @property
    def waiting(self) -> int:
        """Return what is still owed and not set aside."""
        return self.ordered - self.shipped - self.cancelled - self.reserved


class Money(models.Model):
    """Money received for an order, or given back (negative). Append-only; for the shop's own view, no bookkeeping."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="money")
    at = models.DateTimeField()
    amount_minor = models.BigIntegerField()
    how = models.CharField(max_length=60, blank=True)
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(amount_minor=0), name="money_not_nothing")]


class Hold(models.Model):
    """Stock put by without an order: for minutes (a web basket), or on the phone until a day."""

    class Kind(models.TextChoices):
        MINUTES = "minutes"
        PHONE = "phone"

    kind = models.CharField(max_length=8, choices=Kind.choices)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="holds")
    qty = models.BigIntegerField()
    name = models.CharField(max_length=120, blank=True)
    until = models.DateTimeField()
    allocation = models.OneToOneField(Allocation, null=True, on_delete=models.PROTECT, related_name="hold")
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=80)
    ended_at = models.DateTimeField(null=True)
    became = models.ForeignKey(OrderLine, null=True, on_delete=models.PROTECT, related_name="from_holds")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(qty__gte=1), name="hold_quantity"),
            models.CheckConstraint(condition=Q(kind="minutes") | ~Q(name=""), name="hold_phone_has_name"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=False) | Q(allocation__isnull=False), name="hold_open_has_allocation"
            ),
        ]

"""Count sheets: what was looked at, blind, when, and how far the book was off."""

from django.db import models
from django.db.models import Q

from inventory.models.items import Item
from inventory.models.stock import Entry, Lot, Place
from shop.access.models import Person


class StockCount(models.Model):
    """A sheet of things to be counted; people go on working, each line has its own time."""

    number = models.PositiveIntegerField(unique=True)
    name = models.CharField(max_length=80, help_text="what it covers: the week's, rack, Bin 3")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        indexes = [models.Index(fields=["number"], name="stock_count_open", condition=Q(closed_at=None))]


class StockCountLine(models.Model):
    """One item at a place, or one bar. What the book said is written only with what was counted, never before."""

    count = models.ForeignKey(StockCount, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT, related_name="+", help_text="a bar")
    counted = models.BigIntegerField(null=True, help_text="in the item's unit; of a bar its length, 0 when not here")
    typed = models.CharField(max_length=60, blank=True)
    counted_at = models.DateTimeField(null=True)
    counted_by = models.CharField(max_length=80, blank=True)
    expected = models.BigIntegerField(null=True, help_text="what the book said at that time")
    tolerance = models.BigIntegerField(null=True, help_text="either way, in the item's unit")
    reason = models.CharField(max_length=300, blank=True)
    entry = models.OneToOneField(Entry, null=True, on_delete=models.PROTECT, related_name="count_line")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count", "number"], name="stock_count_line_once"),
            models.UniqueConstraint(
                fields=["count", "item", "place"], condition=Q(lot=None), name="stock_count_item_once"
            ),
            models.UniqueConstraint(fields=["count", "lot"], name="stock_count_bar_once"),
            models.CheckConstraint(
                condition=Q(counted=None, counted_at=None, expected=None, tolerance=None, entry=None)
                | Q(
                    counted__gte=0,
                    counted_at__isnull=False,
                    expected__isnull=False,
                    tolerance__gte=0,
                ),
                name="stock_count_line_counted",
            ),
        ]
        indexes = [models.Index(fields=["item", "counted_at"], name="stock_count_line_item")]

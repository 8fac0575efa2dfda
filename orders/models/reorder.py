"""What the night learned of an item's demand, and what is to be made for the shelf."""

from django.db import models
from django.db.models import Q

from inventory.models import Item, Run
from shop.access.models import Person


class Learned(models.Model):
    """An item's demand, lead time and reorder point as last reckoned; worked out anew from the book at any time."""

    item = models.OneToOneField(Item, primary_key=True, on_delete=models.PROTECT, related_name="learned")
    learned_on = models.DateField()
    method = models.CharField(max_length=40)
    per_day = models.FloatField(help_text="mean of the coming weeks, units a day")
    point = models.BigIntegerField(help_text="order at this position or under it")
    up_to = models.BigIntegerField(help_text="the least position after ordering")
    lead_days = models.FloatField(help_text="mean days from order to arrival")
    service = models.FloatField(help_text="wanted share of reorders in which it does not run dry")
    error = models.FloatField(null=True, help_text="of the chosen method over its horizon, units")
    naive_error = models.FloatField(null=True)
    basis = models.JSONField(help_text="weekly history, forecast by week, lead times; what the page draws")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(per_day__gte=0, lead_days__gte=0, service__gt=0, service__lt=1), name="learned_figures"
            )
        ]


class ForShelf(models.Model):
    """Pieces to be made that nobody has ordered yet; planned behind all orders until a run is started for them."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="for_shelf")
    pieces = models.PositiveIntegerField()
    asked_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=300, blank=True)
    run = models.OneToOneField(Run, null=True, on_delete=models.PROTECT, related_name="for_shelf")
    dropped_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pieces__gte=1), name="for_shelf_pieces"),
            models.CheckConstraint(condition=Q(run=None) | Q(dropped_at=None), name="for_shelf_started_or_dropped"),
            models.UniqueConstraint(
                fields=["item"], condition=Q(run=None, dropped_at=None), name="for_shelf_once_an_item"
            ),
        ]

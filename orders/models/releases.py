"""Pieces set aside to be sold on the web from a day on."""

from django.db import models
from django.db.models import F, Q

from orders.models.orders import Order

OWN_SOURCE = "release"
"""The source of a release's own order; an order taken out of release 7 has the source "release 7"."""


class Release(models.Model):
    """Pieces kept for one day's sale. They stand in an order of the shop's own, so they queue and are promised like any;
    orders that come in take their pieces out of it.
    """

    name = models.CharField(max_length=80)
    order = models.OneToOneField(Order, on_delete=models.PROTECT, related_name="release")
    opens_at = models.DateTimeField()
    closes_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(closes_at=None) | Q(opens_at__lt=F("closes_at")), name="release_in_order"
            )
        ]

"""Who buys: one-off customers and dealers."""

from django.db import models
from django.db.models import Q


class Customer(models.Model):
    """A one-off customer or a dealer."""

    class Kind(models.TextChoices):
        ONE_OFF = "one-off"
        DEALER = "dealer"

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True, max_length=600)
    terms = models.CharField(max_length=200, blank=True)
    minimum_minor = models.BigIntegerField(default=0, help_text="an order of theirs comes to so much or more")
    takes_parts = models.BooleanField(default=True, help_text="takes a part of an order before the rest")
    active = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["one-off", "dealer"]), name="customer_kind"),
            models.CheckConstraint(condition=Q(minimum_minor__gte=0), name="customer_minimum"),
        ]
        indexes = [models.Index(fields=["name", "id"], name="customer_name")]

    def __str__(self) -> str:
        return self.name

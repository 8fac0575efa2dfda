"""Days given to customers and what each was based on. Append-only."""

from django.db import models
from django.db.models import Q

from orders.models.orders import Order, OrderLine
from shop.access.models import Person


class PromiseBasis(models.Model):
    """What a promise was worked out from, packed, with its digest and the version of the code."""

    digest = models.CharField(max_length=64)
    inputs = models.JSONField()
    code_version = models.CharField(max_length=40)


class Promise(models.Model):
    """A ship day given for one line, or for the whole order where no line is named."""

    class Source(models.TextChoices):
        TAKEN_OVER = "taken over"  # given before the program came
        BY_HAND = "by hand"
        CALCULATED = "calculated"

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="promises")
    line = models.ForeignKey(OrderLine, null=True, on_delete=models.PROTECT, related_name="promises")
    day = models.DateField()
    source = models.CharField(max_length=10, choices=Source.choices)
    wanted_chance_ppm = models.PositiveIntegerField(null=True)
    chance_ppm = models.PositiveIntegerField(null=True)
    basis = models.ForeignKey(PromiseBasis, null=True, on_delete=models.PROTECT, related_name="promises")
    supersedes = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="superseded_by")
    given_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(source="calculated") | Q(basis__isnull=False, chance_ppm__isnull=False),
                name="promise_calculated_has_basis",
            ),
            models.CheckConstraint(
                condition=(Q(chance_ppm=None) | Q(chance_ppm__lte=1_000_000))
                & (Q(wanted_chance_ppm=None) | Q(wanted_chance_ppm__lte=1_000_000)),
                name="promise_chance",
            ),
        ]
        indexes = [models.Index(fields=["order", "id"], name="promise_order")]

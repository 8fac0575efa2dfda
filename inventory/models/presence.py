"""Who is away and what is down: what the week sheet plans around, and what teaches how often it happens."""

from django.db import models
from django.db.models import F, Q

from inventory.models.routes import Machine
from shop.access.models import Person


class Away(models.Model):
    """Days somebody is not in the shop, both included; without a last day nobody knows yet when they are back."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="away")
    first = models.DateField()
    last = models.DateField(null=True)
    ill = models.BooleanField(default=False, help_text="came unforeseen; teaches how often that happens")
    why = models.CharField(max_length=80, blank=True)
    noted_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last=None) | Q(first__lte=F("last")), name="away_in_order"),
            models.CheckConstraint(condition=Q(ill=True) | Q(last__isnull=False), name="away_foreseen_has_last_day"),
        ]
        indexes = [models.Index(fields=["person", "first"], name="away_person")]


class MachineDown(models.Model):
    """Days a machine cannot be used, both included; without a last day nobody knows yet when it runs again."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="down")
    first = models.DateField()
    last = models.DateField(null=True)
    broke = models.BooleanField(default=True, help_text="came unforeseen; a service that was planned did not")
    why = models.CharField(max_length=80, blank=True)
    noted_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last=None) | Q(first__lte=F("last")), name="machine_down_in_order"),
        ]
        indexes = [models.Index(fields=["machine", "first"], name="machine_down_machine")]

"""What a hand put on the week sheet."""

from django.db import models
from django.db.models import Q

from shop.access.models import Person


class WeekPin(models.Model):
    """A run's step that does not begin before a day, in the order of the sheet.

    The run is named by its code; one that is still to be started by its item and number, as `CP2-ASH+1`.
    """

    run_code = models.CharField(max_length=40)
    step = models.PositiveSmallIntegerField()
    day = models.DateField()
    place = models.PositiveIntegerField(help_text="order on the sheet")
    pinned_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run_code", "step"], name="week_pin_once"),
            models.CheckConstraint(condition=Q(step__gte=1), name="week_pin_step"),
        ]

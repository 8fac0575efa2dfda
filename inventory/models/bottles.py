"""Gas bottles: vessels that come back, whatever is in them."""

from django.db import models
from django.db.models import Q

from inventory.models.items import Item
from inventory.models.purchasing import Supplier


class Bottle(models.Model):
    """One gas bottle: full, part, empty or gone back. What gas there is, is the book's; this is where the vessel is."""

    class State(models.TextChoices):
        FULL = "full"
        PART = "part"
        EMPTY = "empty"
        BACK = "gone back"

    number = models.CharField(max_length=12, help_text="as painted or stamped on it")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="bottles", help_text="what is in it")
    supplier = models.ForeignKey(Supplier, null=True, on_delete=models.PROTECT, related_name="bottles")
    state = models.CharField(max_length=9, choices=State.choices)
    quarters = models.PositiveSmallIntegerField(help_text="4 full, 0 empty")
    in_use = models.BooleanField(default=False)
    deposit_minor = models.BigIntegerField(default=0, help_text="paid for it, comes back with it")
    came_on = models.DateField()
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["item", "number"], condition=~Q(state="gone back"), name="bottle_once"),
            models.CheckConstraint(
                condition=Q(state="full", quarters=4)
                | Q(state="part", quarters__gte=1, quarters__lte=3)
                | Q(state__in=["empty", "gone back"], quarters=0, in_use=False),
                name="bottle_state",
            ),
            models.CheckConstraint(condition=Q(deposit_minor__gte=0), name="bottle_deposit"),
        ]

    def __str__(self) -> str:
        return self.number


class BottleChange(models.Model):
    """What was done with a bottle: came, put in, read, empty, gone back. Append-only."""

    class What(models.TextChoices):
        CAME = "came"
        IN = "put in"
        READ = "read"
        EMPTY = "empty"
        BACK = "gone back"

    bottle = models.ForeignKey(Bottle, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=9, choices=What.choices)
    quarters = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    by = models.CharField(max_length=80)
    entry = models.OneToOneField(
        "inventory.Entry", null=True, on_delete=models.PROTECT, related_name="bottle_change", help_text="gas used up"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(what__in=["came", "put in", "read", "empty", "gone back"], quarters__lte=4),
                name="bottle_change_what",
            )
        ]
        indexes = [models.Index(fields=["bottle", "id"], name="bottle_change_last")]

"""What the shop keeps: items of six kinds, and what a tool is made of."""

from django.db import models
from django.db.models import F, Q

from inventory.models.routes import Pattern


class Item(models.Model):
    """Something kept in stock. Quantities are whole numbers of its unit: nm for bars, else pieces, mg or µL."""

    class Kind(models.TextChoices):
        BAR = "bar"
        BLANK = "blank"
        HEAD = "head"
        HANDLE = "handle"
        CONSUMABLE = "consumable"
        TOOL = "tool"

    class Unit(models.TextChoices):
        NM = "nm"
        PIECE = "piece"
        MG = "mg"
        UL = "ul"

    class Counted(models.TextChoices):
        OFTEN = "often"
        SOMETIMES = "sometimes"
        SELDOM = "seldom"

    class StoredAs(models.TextChoices):
        LP_GAS = "lp gas"
        OXYGEN = "oxygen"
        FLAMMABLE = "flammable"

    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    unit = models.CharField(max_length=5, choices=Unit.choices)
    buy_unit = models.CharField(max_length=20, blank=True, help_text="as bought: dozen, box, pail")
    issue_per_buy = models.BigIntegerField(default=1, help_text="units used per unit bought")
    grade = models.ForeignKey("inventory.Grade", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    section = models.ForeignKey("inventory.Section", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    blank_length_nm = models.BigIntegerField(null=True, blank=True)
    pattern = models.ForeignKey(Pattern, null=True, blank=True, on_delete=models.PROTECT, related_name="items")
    eye_size = models.CharField(max_length=20, blank=True)
    shipped_mass_mg = models.BigIntegerField(null=True, blank=True, help_text="with handle and box")
    retail_minor = models.BigIntegerField(null=True, blank=True)
    dealer_minor = models.BigIntegerField(null=True, blank=True)
    reorder_point = models.BigIntegerField(null=True, blank=True)
    reorder_quantity = models.BigIntegerField(null=True, blank=True)
    lead_days = models.PositiveSmallIntegerField(null=True, blank=True)
    supplier = models.ForeignKey(
        "inventory.Supplier", null=True, blank=True, on_delete=models.PROTECT, related_name="items"
    )
    counted = models.CharField(
        max_length=9,
        choices=Counted.choices,
        blank=True,
        help_text="how often it is counted; empty: by its yearly value",
    )
    service_percent = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="of 100 reorders it does not run dry in so many; empty: by how often it is counted",
    )
    shelf_life_days = models.PositiveSmallIntegerField(null=True, blank=True)
    most_kept = models.BigIntegerField(null=True, blank=True, help_text="there is room for so much, in its unit")
    stored_as = models.CharField(max_length=9, choices=StoredAs.choices, blank=True)
    safety_sheet = models.URLField(blank=True)
    caution = models.CharField(max_length=300, blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["bar", "blank", "head", "handle", "consumable", "tool"]), name="item_kind"
            ),
            models.CheckConstraint(
                condition=Q(kind="bar", unit="nm") | (~Q(kind="bar") & Q(unit__in=["piece", "mg", "ul"])),
                name="item_bar_is_nm",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["bar", "consumable"]) | Q(unit="piece"), name="item_made_things_are_pieces"
            ),
            models.CheckConstraint(
                condition=~Q(kind="bar") | Q(grade__isnull=False, section__isnull=False), name="item_bar_has_steel"
            ),
            models.CheckConstraint(condition=Q(issue_per_buy__gte=1), name="item_issue_per_buy"),
            models.CheckConstraint(
                condition=(Q(retail_minor=None) | Q(retail_minor__gte=0))
                & (Q(dealer_minor=None) | Q(dealer_minor__gte=0)),
                name="item_prices_not_negative",
            ),
            models.CheckConstraint(
                condition=(Q(reorder_point=None) | Q(reorder_point__gte=0))
                & (Q(reorder_quantity=None) | Q(reorder_quantity__gte=1)),
                name="item_reorder_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(counted__in=["", "often", "sometimes", "seldom"])
                & Q(stored_as__in=["", "lp gas", "oxygen", "flammable"]),
                name="item_counted_and_stored",
            ),
            models.CheckConstraint(
                condition=(Q(service_percent=None) | Q(service_percent__gte=50, service_percent__lte=99))
                & (Q(shelf_life_days=None) | Q(shelf_life_days__gte=1))
                & (Q(most_kept=None) | Q(most_kept__gte=1)),
                name="item_limits",
            ),
        ]
        indexes = [models.Index(fields=["kind", "code"], name="item_kind_code")]

    def __str__(self) -> str:
        return self.name


class RecipePart(models.Model):
    """One part of a tool: so many of an item go into one."""

    tool = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="recipe")
    part = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="used_in")
    quantity = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["tool", "part"], name="recipe_part_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="recipe_quantity"),
            models.CheckConstraint(condition=~Q(tool=F("part")), name="recipe_not_itself"),
        ]

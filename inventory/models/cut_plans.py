"""Cut plans: the question, the plans that answer it, the one that was taken, and how far the saw is with it."""

from django.db import models
from django.db.models import F, Q

from inventory.models.cutting import Cut
from inventory.models.items import Item
from inventory.models.steel import Bar
from inventory.models.stock import Allocation
from shop.access.models import Person


class Blade(models.Model):
    """A saw with the blade that is on it: what one cut takes, measured on a day, and what the vice must hold."""

    name = models.CharField(max_length=60, unique=True)
    kerf_nm = models.BigIntegerField()
    tail_hold_nm = models.BigIntegerField(default=0, help_text="what must stay behind the last cut for the vice")
    measured_on = models.DateField()
    active = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    kerf_nm__gte=0, kerf_nm__lte=25_400_000, tail_hold_nm__gte=0, tail_hold_nm__lte=1_000_000_000
                ),
                name="blade_sensible",
            )
        ]

    def __str__(self) -> str:
        return self.name


class CutRules(models.Model):
    """How the shop plans its cuts, in one row: the shortest remnant kept, the mill end cut off, what losses count."""

    id = models.SmallIntegerField(primary_key=True, default=1)
    min_remnant_nm = models.BigIntegerField(default=304_800_000, help_text="the shortest rest worth keeping")
    trim_nm = models.BigIntegerField(default=0, help_text="cut off the mill end of a full bar, without its kerf")
    remnant_price_nm = models.BigIntegerField(default=100_000_000, help_text="a new remnant, in length of scrap")
    handled_price_nm = models.BigIntegerField(default=30_000_000, help_text="a bar sawn, in length of scrap")
    full_price_nm = models.BigIntegerField(default=200_000_000, help_text="a full bar opened, in length of scrap")
    one_heat = models.BooleanField(default=True, help_text="each kind of blank from one mill heat")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="cut_rules_one_row"),
            models.CheckConstraint(
                condition=Q(
                    min_remnant_nm__gte=1,
                    trim_nm__gte=0,
                    remnant_price_nm__gte=0,
                    handled_price_nm__gte=0,
                    full_price_nm__gte=0,
                ),
                name="cut_rules_sensible",
            ),
        ]


class CutPlan(models.Model):
    """Which blanks are wanted from one steel, and what the saw shall do; all lengths in nm.

    `answers` holds the plans found, as `inventory.queries.cut_question` writes them; `so_far` the best one while the worker
    is still at it. The bars of the plan that is taken are set aside, each by an allocation of its own.
    """

    class State(models.TextChoices):
        ASKED = "asked"
        ANSWERED = "answered"
        TAKEN = "taken"
        SAWN = "sawn"
        DROPPED = "dropped"

    number = models.PositiveIntegerField(unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="cut_plans")
    state = models.CharField(max_length=8, choices=State.choices, default=State.ASKED)
    blade = models.ForeignKey(Blade, null=True, on_delete=models.PROTECT, related_name="+")
    kerf_nm = models.BigIntegerField()
    tail_hold_nm = models.BigIntegerField(default=0)
    trim_nm = models.BigIntegerField(default=0, help_text="cut off the mill end of a full bar, without its kerf")
    min_remnant_nm = models.BigIntegerField()
    one_heat = models.BooleanField(default=True, help_text="each kind of blank from one mill heat")
    remnant_price_nm = models.BigIntegerField(help_text="what a new remnant counts, in length of scrap")
    handled_price_nm = models.BigIntegerField(help_text="what a bar sawn counts")
    full_price_nm = models.BigIntegerField(help_text="what a full bar opened counts")
    buyable = models.JSONField(default=list, help_text="lengths that may be bought: nm, minor units, as typed")
    seconds = models.PositiveSmallIntegerField(default=10, help_text="how long the worker may look")
    so_far = models.JSONField(null=True)
    answers = models.JSONField(default=list)
    chosen = models.PositiveSmallIntegerField(null=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True)
    taken_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["asked", "answered", "taken", "sawn", "dropped"]), name="cut_plan_state"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["taken", "sawn"]) | Q(chosen__isnull=False, taken_at__isnull=False),
                name="cut_plan_taken_is_one",
            ),
            models.CheckConstraint(
                condition=Q(
                    kerf_nm__gte=0,
                    tail_hold_nm__gte=0,
                    trim_nm__gte=0,
                    min_remnant_nm__gte=1,
                    remnant_price_nm__gte=0,
                    handled_price_nm__gte=0,
                    full_price_nm__gte=0,
                    seconds__gte=1,
                ),
                name="cut_plan_sensible",
            ),
        ]
        indexes = [models.Index(fields=["state", "number"], name="cut_plan_open")]

    def __str__(self) -> str:
        return str(self.number)


class CutPlanLine(models.Model):
    """So many blanks of a kind, for a day where one is named."""

    plan = models.ForeignKey(CutPlan, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    blank = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    piece_nm = models.BigIntegerField()
    count = models.PositiveIntegerField()
    due = models.DateField(null=True)
    words = models.CharField(max_length=120, blank=True, help_text="what for")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="cut_plan_line_once"),
            models.CheckConstraint(condition=Q(count__gte=1, piece_nm__gte=1), name="cut_plan_line_is_some"),
        ]


class CutPlanBar(models.Model):
    """One bar of the plan that was taken, in the order of the saw by id: its pieces, and what became of it."""

    class State(models.TextChoices):
        TO_SAW = "to saw"
        SAWN = "sawn"
        LEFT = "left alone"

    plan = models.ForeignKey(CutPlan, on_delete=models.PROTECT, related_name="bars")
    bar = models.ForeignKey(Bar, on_delete=models.PROTECT, related_name="cut_plan_bars")
    pieces = models.JSONField(help_text="numbers of the plan's lines, one a piece, in the order of the saw")
    length_nm = models.BigIntegerField(help_text="as it stood when the plan was taken")
    trim_nm = models.BigIntegerField(default=0)
    left_nm = models.BigIntegerField(default=0)
    kept = models.BooleanField(default=False, help_text="what is left is a remnant")
    state = models.CharField(max_length=10, choices=State.choices, default=State.TO_SAW)
    allocation = models.OneToOneField(Allocation, null=True, on_delete=models.PROTECT, related_name="cut_plan_bar")
    cut = models.OneToOneField(Cut, null=True, on_delete=models.PROTECT, related_name="cut_plan_bar")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan", "bar"], name="cut_plan_bar_once"),
            models.CheckConstraint(
                condition=Q(state="to saw", allocation__isnull=False, cut=None)
                | Q(state="sawn", allocation=None, cut__isnull=False)
                | Q(state="left alone", allocation=None, cut=None),
                name="cut_plan_bar_set_aside",
            ),
            models.CheckConstraint(
                condition=Q(length_nm__gte=1, trim_nm__gte=0, left_nm__gte=0)
                & Q(length_nm__gte=F("trim_nm") + F("left_nm")),
                name="cut_plan_bar_lengths",
            ),
        ]

"""What a head or a tool goes through: patterns, their routes of steps, machines and the tooling that is in them."""

from django.db import models
from django.db.models import F, Q

from shop.access.models import Person

ROCKWELL_MOST = 700  # tenths of HRC


class Machine(models.Model):
    """A fire, hammer, press, grinder, oven, saw or bench; `holds` is how many jobs it takes at once."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=20)
    holds = models.PositiveSmallIntegerField(default=1)
    active = models.BooleanField(default=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(holds__gte=1), name="machine_holds_something")]

    def __str__(self) -> str:
        return self.name


class ToolingSet(models.Model):
    """Dies, punches, drifts, jigs that are in for a step, often over several machines at once."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    machines = models.ManyToManyField(Machine, related_name="tooling")
    change_minutes = models.PositiveSmallIntegerField(default=30)
    dress_at = models.PositiveIntegerField(null=True, help_text="pieces after which it is dressed")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(dress_at=None) | Q(dress_at__gte=1), name="tooling_set_dressed_at")
        ]

    def __str__(self) -> str:
        return self.name


class ToolingChange(models.Model):
    """What was done to a tooling set: put in, dressed, taken out of use, back in use. The last one holds."""

    class What(models.TextChoices):
        IN = "in"
        DRESSED = "dressed"
        OUT_OF_USE = "out of use"
        BACK = "back in use"

    tooling = models.ForeignKey(ToolingSet, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=12, choices=What.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(what__in=["in", "dressed", "out of use", "back in use"]), name="tooling_change_what"
            )
        ]
        indexes = [models.Index(fields=["tooling", "id"], name="tooling_change_last")]


class Pattern(models.Model):
    """A head's kind, such as cross peen 2 lb: what it weighs, how hard it is, what it loses on the way.

    The window is the published one, in tenths of HRC, and blocks; the shop's own aim is a note beside it.
    """

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    head_mass_mg = models.BigIntegerField(null=True, help_text="bare head as wanted")
    light_below_mg = models.BigIntegerField(null=True, help_text="a head under this is of the light class")
    heavy_above_mg = models.BigIntegerField(null=True)
    loss_ppm = models.PositiveIntegerField(default=110_000, help_text="blank to head; learned from twenty heads on")
    hard_low = models.PositiveSmallIntegerField(null=True, help_text="tenths of HRC")
    hard_high = models.PositiveSmallIntegerField(null=True, help_text="tenths of HRC")
    hard_source = models.CharField(max_length=80, blank=True, help_text="document and edition of the window")
    aim = models.CharField(max_length=120, blank=True)
    crack_check = models.BooleanField(default=True)
    labour_minor_per_hour = models.PositiveIntegerField(default=0)
    usual_run = models.PositiveSmallIntegerField(default=12, help_text="lines are made together up to so many pieces")
    most_run = models.PositiveSmallIntegerField(default=60, help_text="pieces of a run at the most")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(hard_low=None, hard_high=None)
                | Q(hard_low__isnull=False, hard_high__isnull=False, hard_low__lte=F("hard_high"), hard_high__lte=700),
                name="pattern_hardness_window",
            ),
            models.CheckConstraint(condition=Q(loss_ppm__lte=900_000), name="pattern_loss"),
            models.CheckConstraint(
                condition=Q(usual_run__gte=1, usual_run__lte=F("most_run"), most_run__lte=1000),
                name="pattern_run_sizes",
            ),
            models.CheckConstraint(
                condition=Q(light_below_mg=None) | Q(heavy_above_mg=None) | Q(light_below_mg__lte=F("heavy_above_mg")),
                name="pattern_weight_classes",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Route(models.Model):
    """The ordered steps of a pattern; a run freezes the route it was started on."""

    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="routes")
    version = models.PositiveSmallIntegerField(default=1)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pattern", "version"], name="route_version_once")]


class Step(models.Model):
    """One step of a route; pieces after step k stand on the floor at step k.

    Steps of the head end on the shelf, steps of the tool begin with hafting. The figures of a step are shop practice
    until enough has been counted to learn them.
    """

    class Work(models.TextChoices):
        SAW = "saw"
        FORGE = "forge"
        COOL = "cool"
        GRIND = "grind"
        HARDEN = "harden"
        TEMPER = "temper"
        CHECK = "check"
        FINISH = "finish"
        HAFT = "haft"
        OIL = "oil"
        PACK = "pack"
        OTHER = "other"

    class Stage(models.TextChoices):
        HEAD = "head"
        TOOL = "tool"

    route = models.ForeignKey(Route, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)
    work = models.CharField(max_length=8, choices=Work.choices, default=Work.OTHER)
    stage = models.CharField(max_length=4, choices=Stage.choices, default=Stage.HEAD)
    counting_point = models.BooleanField(default=False)
    optional = models.BooleanField(default=False)
    strike_code = models.BooleanField(default=False, help_text="the run's code is struck here")
    set_up_minutes = models.PositiveSmallIntegerField(default=0)
    seconds_each = models.PositiveIntegerField(default=0)
    spread_percent = models.PositiveSmallIntegerField(default=25)
    people = models.PositiveSmallIntegerField(default=1)
    hands = models.ManyToManyField(Person, related_name="+", help_text="who can do it; nobody named: everybody")
    machines = models.ManyToManyField(Machine, related_name="+")
    tooling = models.ForeignKey(ToolingSet, null=True, on_delete=models.PROTECT, related_name="steps")
    fire_batch = models.PositiveSmallIntegerField(default=0, help_text="pieces in the fire at once")
    oven_fits = models.PositiveSmallIntegerField(default=0, help_text="pieces of it that fill the oven")
    cure_minutes = models.PositiveIntegerField(default=0)
    temperature_dc = models.PositiveSmallIntegerField(default=0, help_text="tenths of a degree Celsius")
    soak_minutes = models.PositiveSmallIntegerField(default=0)
    within_minutes = models.PositiveSmallIntegerField(default=0, help_text="hardened pieces are in the temper by then")
    good_ppm = models.PositiveIntegerField(default=1_000_000, help_text="believed before anything is counted")
    prior_pieces = models.PositiveSmallIntegerField(default=50, help_text="what that belief is worth")
    afresh_from = models.DateTimeField(null=True, help_text="counts before this no longer teach anything")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["route", "number"], name="step_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="step_number_from_one"),
            models.CheckConstraint(
                condition=Q(
                    work__in=[
                        "saw", "forge", "cool", "grind", "harden", "temper", "check", "finish", "haft", "oil", "pack",
                        "other",
                    ]
                ),
                name="step_work",
            ),
            models.CheckConstraint(condition=Q(stage__in=["head", "tool"]), name="step_stage"),
            models.CheckConstraint(
                condition=Q(good_ppm__lte=1_000_000, prior_pieces__gte=1, people__gte=1), name="step_rate_believed"
            ),
            models.CheckConstraint(
                condition=~Q(work="temper") | Q(temperature_dc__gte=1, soak_minutes__gte=1), name="step_temper_has_soak"
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return self.name


class StepCause(models.Model):
    """One cause for which pieces are rejected at a step, and what may become of them."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="causes")
    name = models.CharField(max_length=40)
    second = models.BooleanField(default=False, help_text="may be sold as a second")
    rework_to = models.PositiveSmallIntegerField(null=True, help_text="number of the step it goes back to")
    handle_only = models.BooleanField(default=False, help_text="the handle is lost, not the head")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["step", "name"], name="step_cause_once"),
            models.CheckConstraint(condition=Q(rework_to=None) | Q(rework_to__gte=1), name="step_cause_rework"),
            models.CheckConstraint(
                condition=Q(handle_only=False) | Q(second=False, rework_to=None), name="step_cause_handle"
            ),
        ]


class StepUse(models.Model):
    """What a step uses up: so much of an item for a hundred pieces, in the item's unit."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="uses")
    item = models.ForeignKey("inventory.Item", on_delete=models.PROTECT, related_name="+")
    per_hundred = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["step", "item"], name="step_use_once"),
            models.CheckConstraint(condition=Q(per_hundred__gte=1), name="step_use_something"),
        ]

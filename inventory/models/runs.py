"""Pieces started together, what was counted of them, and what they went through in the oven."""

from django.db import models
from django.db.models import F, Q

from inventory.models.items import Item
from inventory.models.routes import Machine, Pattern, Route, Step, StepCause
from inventory.models.steel import Melt
from inventory.models.stock import Entry, Lot
from shop.access.models import Person


class Run(models.Model):
    """Pieces started together from blanks of one mill heat; its code is struck on the steel.

    Its lots say where the pieces are. `wanted` is how many good ones it is for; a run of opening stock was on the floor
    before the book.
    """

    class Kind(models.TextChoices):
        SERIES = "series"
        MADE_TO_ORDER = "made to order"
        OPENING = "opening"

    code = models.CharField(max_length=4, unique=True)
    kind = models.CharField(max_length=13, choices=Kind.choices, default=Kind.SERIES)
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="runs")
    route = models.ForeignKey(Route, on_delete=models.PROTECT, related_name="runs")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="runs", help_text="the head it makes")
    melt = models.ForeignKey(Melt, null=True, on_delete=models.PROTECT, related_name="runs")
    wanted = models.PositiveIntegerField(null=True)
    sure_percent = models.PositiveSmallIntegerField(default=90)
    started_at = models.DateTimeField()
    joined_into = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="joined")
    split_from = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="split_off")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["series", "made to order", "opening"]), name="run_kind"),
            models.CheckConstraint(condition=Q(sure_percent__gte=1, sure_percent__lte=99), name="run_sure"),
            models.CheckConstraint(condition=Q(wanted=None) | Q(wanted__gte=1), name="run_wanted"),
        ]
        indexes = [models.Index(fields=["pattern", "started_at"], name="run_pattern")]

    def __str__(self) -> str:
        return self.code


class RunCount(models.Model):
    """What was counted of a run at a counting point; good, scrap, seconds and rework are all that was taken.

    The entry that moved the pieces may be undone; then the count teaches nothing.
    """

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="run_count")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, related_name="counts")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="counts")
    taken = models.PositiveIntegerField()
    good = models.PositiveIntegerField()
    scrap = models.PositiveIntegerField(default=0)
    second = models.PositiveIntegerField(default=0)
    rework = models.PositiveIntegerField(default=0)
    handles_lost = models.PositiveIntegerField(default=0)
    caught_up = models.BooleanField(default=False, help_text="booked with a later count")
    crack_checked = models.BooleanField(default=False)
    minutes = models.PositiveIntegerField(null=True)
    people = models.PositiveSmallIntegerField(null=True)
    light = models.PositiveIntegerField(default=0)
    in_class = models.PositiveIntegerField(default=0)
    heavy = models.PositiveIntegerField(default=0)
    early = models.BooleanField(default=False, help_text="a cure was released early, by name and reason")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(taken=F("good") + F("scrap") + F("second") + F("rework"), taken__gte=1),
                name="run_count_is_all_taken",
            ),
            models.CheckConstraint(
                condition=Q(good__gte=F("light") + F("in_class") + F("heavy")), name="run_count_weighed_of_good"
            ),
            models.CheckConstraint(condition=Q(minutes=None) | Q(minutes__gte=1), name="run_count_minutes"),
            models.CheckConstraint(condition=Q(people=None) | Q(people__gte=1), name="run_count_people"),
        ]
        indexes = [models.Index(fields=["run", "id"], name="run_count_run"), models.Index(fields=["step", "id"], name="run_count_step")]  # fmt: skip


class CountReject(models.Model):
    """So many pieces of a count that were not good: why, and what became of them."""

    class Fate(models.TextChoices):
        SCRAP = "scrap"
        SECOND = "second"
        REWORK = "rework"

    count = models.ForeignKey(RunCount, on_delete=models.PROTECT, related_name="rejects")
    cause = models.ForeignKey(StepCause, null=True, on_delete=models.PROTECT, related_name="rejects")
    qty = models.PositiveIntegerField()
    fate = models.CharField(max_length=6, choices=Fate.choices)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(qty__gte=1), name="count_reject_is_some"),
            models.CheckConstraint(condition=Q(fate__in=["scrap", "second", "rework"]), name="count_reject_fate"),
            models.CheckConstraint(
                condition=Q(fate="scrap") | Q(cause__isnull=False), name="count_reject_saved_has_cause"
            ),
        ]


class HeadWeight(models.Model):
    """One head on the scale, by its number where it has one."""

    count = models.ForeignKey(RunCount, on_delete=models.PROTECT, related_name="weights")
    mass_mg = models.BigIntegerField()
    typed = models.CharField(max_length=40)
    number = models.CharField(max_length=20, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(mass_mg__gte=1), name="head_weight_is_some")]


class OvenLoad(models.Model):
    """Pieces hardened or tempered together. The soak runs from load at temperature."""

    class Work(models.TextChoices):
        HARDEN = "harden"
        TEMPER = "temper"

    number = models.PositiveIntegerField(unique=True)
    work = models.CharField(max_length=6, choices=Work.choices)
    oven = models.ForeignKey(Machine, null=True, on_delete=models.PROTECT, related_name="loads")
    temperature_dc = models.PositiveSmallIntegerField(help_text="tenths of a degree Celsius, as set")
    typed = models.CharField(max_length=20, help_text="as typed")
    soak_minutes = models.PositiveSmallIntegerField(default=0)
    heat_up_minutes = models.PositiveSmallIntegerField(default=0)
    in_at = models.DateTimeField()
    at_temperature_at = models.DateTimeField(null=True)
    out_at = models.DateTimeField(null=True)
    reached = models.BooleanField(null=True, help_text="whether it came to temperature and soak")
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="oven_load")
    out_entry = models.OneToOneField(Entry, null=True, on_delete=models.PROTECT, related_name="oven_load_out")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(work__in=["harden", "temper"]), name="oven_load_work"),
            models.CheckConstraint(condition=Q(out_at=None) | Q(out_at__gte=F("in_at")), name="oven_load_out_after_in"),
            models.CheckConstraint(
                condition=Q(at_temperature_at=None) | Q(at_temperature_at__gte=F("in_at")),
                name="oven_load_hot_after_in",
            ),
            models.CheckConstraint(
                condition=Q(out_at=None, reached=None) | Q(out_at__isnull=False, reached__isnull=False),
                name="oven_load_answered_when_out",
            ),
            models.CheckConstraint(
                condition=~Q(work="temper") | Q(soak_minutes__gte=1, temperature_dc__gte=1),
                name="oven_load_temper_soaks",
            ),
        ]
        indexes = [models.Index(fields=["in_at"], name="oven_load_open", condition=Q(out_at=None))]


class LoadLot(models.Model):
    """So many pieces of one lot in a load. A lot is in at most one open load."""

    load = models.ForeignKey(OvenLoad, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="loads")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="+")
    qty = models.PositiveIntegerField()
    trial = models.CharField(max_length=120, blank=True, help_text="what the trial piece of this lot showed")
    open = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["load", "lot"], name="load_lot_once"),
            models.UniqueConstraint(fields=["lot"], condition=Q(open=True), name="load_lot_in_one_open_load"),
            models.CheckConstraint(condition=Q(qty__gte=1), name="load_lot_is_some"),
        ]


class Hardness(models.Model):
    """One reading of a lot: a figure in tenths of HRC, or a pair of files it lies between."""

    class Method(models.TextChoices):
        ROCKWELL = "rockwell"
        REBOUND = "rebound"
        FILES = "file pair"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="hardness")
    load = models.ForeignKey(OvenLoad, null=True, on_delete=models.PROTECT, related_name="hardness")
    method = models.CharField(max_length=9, choices=Method.choices)
    low = models.PositiveSmallIntegerField(help_text="tenths of HRC; of a pair the softer file")
    high = models.PositiveSmallIntegerField(help_text="the same figure, or the harder file")
    inside = models.BooleanField(null=True, help_text="inside the published window; nothing where there is none")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(method__in=["rockwell", "rebound", "file pair"]), name="hardness_method"
            ),
            models.CheckConstraint(
                condition=Q(low__lte=F("high"), low__gte=1, high__lte=700), name="hardness_in_scale"
            ),
        ]
        indexes = [models.Index(fields=["lot", "id"], name="hardness_lot")]


class FloorNote(models.Model):
    """What stopped the work, or that a bottle was changed; the bottle change teaches what gas goes into a piece."""

    class What(models.TextChoices):
        NO_GAS = "stopped: gas"
        HAMMER = "stopped: hammer"
        HANDS = "stopped: hands"
        BOTTLE = "bottle changed"

    what = models.CharField(max_length=16, choices=What.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(Run, null=True, on_delete=models.PROTECT, related_name="notes")
    item = models.ForeignKey(
        Item, null=True, on_delete=models.PROTECT, related_name="+", help_text="what is in the bottle"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(what__in=["stopped: gas", "stopped: hammer", "stopped: hands", "bottle changed"]),
                name="floor_note_what",
            ),
            models.CheckConstraint(
                condition=~Q(what="bottle changed") | Q(item__isnull=False), name="floor_note_bottle_of_something"
            ),
        ]
        indexes = [models.Index(fields=["at"], name="floor_note_at")]


class HandleSort(models.Model):
    """Handles sorted when picked up: how many were good, how many not, and how dry they were."""

    entry = models.OneToOneField(
        Entry, null=True, on_delete=models.PROTECT, related_name="handle_sort", help_text="where some were scrap"
    )
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="sorts")
    good = models.PositiveIntegerField()
    bad = models.PositiveIntegerField(default=0)
    moisture_permille = models.PositiveSmallIntegerField(null=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(good__gte=1) | Q(bad__gte=1), name="handle_sort_is_some"),
            models.CheckConstraint(condition=Q(bad=0) | Q(entry__isnull=False), name="handle_sort_scrap_is_booked"),
            models.CheckConstraint(
                condition=Q(moisture_permille=None) | Q(moisture_permille__lte=1000), name="handle_sort_moisture"
            ),
        ]

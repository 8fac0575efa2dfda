"""Steel: grades, sections, melts and the numbered bars."""

from django.db import models
from django.db.models import F, Q

BAR_ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"


class Grade(models.Model):
    """A steel grade and its density in micrograms per cubic centimetre."""

    code = models.CharField(max_length=20, unique=True)
    density_ug_per_cm3 = models.BigIntegerField()
    density_source = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(density_ug_per_cm3__gte=1_000_000, density_ug_per_cm3__lte=25_000_000),
                name="grade_density",
            )
        ]

    def __str__(self) -> str:
        return self.code


class Section(models.Model):
    """The shape and nominal size of a bar; size is across flats for hexagon and octagon."""

    class Shape(models.TextChoices):
        ROUND = "round"
        SQUARE = "square"
        HEXAGON = "hexagon"
        OCTAGON = "octagon"
        FLAT = "flat"

    shape = models.CharField(max_length=8, choices=Shape.choices)
    size_nm = models.BigIntegerField()
    width_nm = models.BigIntegerField(default=0)
    typed = models.CharField(max_length=40)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shape", "size_nm", "width_nm"], name="section_once"),
            models.CheckConstraint(
                condition=Q(shape__in=["round", "square", "hexagon", "octagon", "flat"]), name="section_shape"
            ),
            models.CheckConstraint(
                condition=Q(size_nm__gte=1, size_nm__lte=1_000_000_000)
                & (Q(shape="flat", width_nm__gte=1) | (~Q(shape="flat") & Q(width_nm=0))),
                name="section_size",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.typed} {self.shape}"


class Melt(models.Model):
    """One melt of a mill, by its mill heat number (text, leading zeros kept). An unknown one stays marked unknown."""

    mill = models.CharField(max_length=80, blank=True)
    heat_number = models.CharField(max_length=40)
    grade = models.ForeignKey(Grade, on_delete=models.PROTECT, related_name="melts")
    known = models.BooleanField(default=True)
    certificate_awaited = models.BooleanField(default=False, help_text="said to come and not here yet")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["mill", "heat_number"], condition=Q(known=True), name="melt_once"),
            models.UniqueConstraint(fields=["grade"], condition=Q(known=False), name="melt_one_unknown_per_grade"),
            models.CheckConstraint(condition=Q(known=True) | Q(heat_number="unknown"), name="melt_unknown_says_so"),
            models.CheckConstraint(condition=~Q(heat_number=""), name="melt_has_heat_number"),
        ]

    def __str__(self) -> str:
        return self.heat_number


class Bar(models.Model):
    """One numbered physical length: a lot of one whose unit is nm; what is left of it is its holding."""

    lot = models.OneToOneField("inventory.Lot", primary_key=True, on_delete=models.PROTECT, related_name="bar")
    number = models.CharField(max_length=4, unique=True)
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="bars")
    length_nm = models.BigIntegerField()
    typed = models.CharField(max_length=40, help_text="the length as it was typed")
    measured = models.BooleanField(default=True)
    first_nm = models.BigIntegerField(null=True, help_text="one size by the micrometer, across the section")
    second_nm = models.BigIntegerField(null=True, help_text="the other, at a right angle to it")
    sizes_typed = models.CharField(max_length=60, blank=True)
    mass_mg = models.BigIntegerField(null=True)
    mass_typed = models.CharField(max_length=40, blank=True)
    weighed_by = models.CharField(max_length=20, blank=True)
    parent = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="remnants")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(length_nm__gte=1, length_nm__lte=100_000_000_000), name="bar_length_sensible"
            ),
            models.CheckConstraint(
                condition=Q(first_nm=None, second_nm=None)
                | Q(first_nm__isnull=False, second_nm__isnull=False, first_nm__gte=1, second_nm__gte=1),
                name="bar_sizes_are_two",
            ),
            models.CheckConstraint(condition=Q(mass_mg=None) | Q(mass_mg__gte=1), name="bar_mass"),
            models.CheckConstraint(
                condition=Q(weighed_by__in=["", "own scale", "supplier's ticket"]), name="bar_weighed_by"
            ),
            models.CheckConstraint(condition=Q(parent=None) | ~Q(parent=F("lot")), name="bar_not_its_own_parent"),
        ]

    def __str__(self) -> str:
        return self.number

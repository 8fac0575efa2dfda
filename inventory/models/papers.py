"""What is known of steel on paper: limits by grade, document and edition; certificates; claims and photos of a delivery."""

from django.db import models
from django.db.models import F, Q

from inventory.models.purchasing import Delivery, DeliveryLine
from inventory.models.steel import Grade, Melt
from shop.access.models import Person


class LimitRow(models.Model):
    """What one edition of one document allows in a grade."""

    class Standing(models.TextChoices):
        SEEN = "as printed in the source"
        CARRIED = "partly carried over from another list"

    grade = models.ForeignKey(Grade, on_delete=models.PROTECT, related_name="limit_rows")
    document = models.CharField(max_length=60)
    edition = models.CharField(max_length=40)
    source = models.CharField(max_length=300)
    standing = models.CharField(max_length=40, choices=Standing.choices, default=Standing.SEEN)
    note = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["grade", "document", "edition"], name="limit_row_once"),
            models.CheckConstraint(
                condition=~Q(document="") & ~Q(edition="") & ~Q(source=""), name="limit_row_names_its_paper"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.document}, edition {self.edition}"


class ElementLimit(models.Model):
    """What one element may be, in whole ppm of the mass; the place is its place in the document's table."""

    row = models.ForeignKey(LimitRow, on_delete=models.CASCADE, related_name="elements")
    place = models.PositiveSmallIntegerField()
    element = models.CharField(max_length=2)
    least_ppm = models.PositiveIntegerField(null=True)
    most_ppm = models.PositiveIntegerField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["row", "element"], name="element_limit_once"),
            models.CheckConstraint(
                condition=Q(least_ppm__isnull=False) | Q(most_ppm__isnull=False), name="element_limit_is_one"
            ),
            models.CheckConstraint(
                condition=Q(least_ppm=None) | Q(most_ppm=None) | Q(least_ppm__lte=F("most_ppm")),
                name="element_limit_in_order",
            ),
            models.CheckConstraint(
                condition=(Q(least_ppm=None) | Q(least_ppm__lte=1_000_000))
                & (Q(most_ppm=None) | Q(most_ppm__lte=1_000_000)),
                name="element_limit_is_a_share",
            ),
        ]


class Certificate(models.Model):
    """A mill certificate of a melt: what it says it is, its figures as printed, the file, and who read it.

    `finding` is what the figures came to against the limits of the document and edition named, at the time of reading;
    "read and within limits" is a person's word, with initials, where no figures were typed.
    """

    class Finding(models.TextChoices):
        NOT_READ = "not read yet"
        BY_EYE = "read and within limits"
        PASS = "within the limits"  # noqa: S105 - a word, not a password
        INCOMPLETE = "something is not reported"
        UNCLEAR = "a figure cannot be judged"
        FAIL = "outside the limits"
        NO_LIMITS = "no limits for this document and edition"

    melt = models.ForeignKey(Melt, on_delete=models.PROTECT, related_name="certificates")
    delivery = models.ForeignKey(Delivery, null=True, on_delete=models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=60, blank=True)
    issued_on = models.DateField(null=True)
    paper_type = models.CharField(max_length=3, blank=True, help_text="EN 10204: 2.1, 2.2, 3.1 or 3.2")
    document = models.CharField(max_length=60, blank=True)
    edition = models.CharField(max_length=40, blank=True)
    as_ordered = models.CharField(
        max_length=120, blank=True, help_text="limits agreed on the order, as printed: C .95-1.05 Si .15-.35"
    )
    figures = models.JSONField(default=dict, help_text="element: figure as printed")
    finding = models.CharField(max_length=50, choices=Finding.choices, default=Finding.NOT_READ)
    read_by = models.CharField(max_length=8, blank=True, help_text="initials")
    file = models.CharField(max_length=120, blank=True, help_text="the name holds the SHA-256 of the content")
    file_name = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)
    filed_at = models.DateTimeField()
    filed_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, help_text="taken back because it belongs to another melt")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(paper_type__in=["", "2.1", "2.2", "3.1", "3.2"]), name="certificate_paper_type"
            ),
            models.CheckConstraint(
                condition=~Q(finding="read and within limits") | ~Q(read_by=""), name="certificate_read_by_somebody"
            ),
        ]
        indexes = [models.Index(fields=["melt", "id"], name="certificate_melt")]


class Claim(models.Model):
    """What is claimed from a supplier about a delivery, in words to send, and what came of it."""

    class About(models.TextChoices):
        SHORT = "short"
        OVER = "over"
        SIZE = "wrong size"
        GRADE = "wrong grade"
        WEIGHT = "weight"
        CERTIFICATE = "certificate"
        HEAT = "mill heat"
        DAMAGE = "damage"
        PRICE = "price"

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="claims")
    line = models.ForeignKey(DeliveryLine, null=True, on_delete=models.PROTECT, related_name="claims")
    about = models.CharField(max_length=12, choices=About.choices)
    words = models.CharField(max_length=1000)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    until = models.DateField(null=True, help_text="the supplier's last day for such a claim, where it is known")
    sent_on = models.DateField(null=True)
    settled_on = models.DateField(null=True)
    settled = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="claim_says_something")]


class DeliveryPhoto(models.Model):
    """A photo of a delivery: damage, a tag, the slip."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="photos")
    file = models.CharField(max_length=120)
    file_name = models.CharField(max_length=120)
    words = models.CharField(max_length=120, blank=True)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

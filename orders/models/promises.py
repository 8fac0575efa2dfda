"""Days given to customers and what each was based on. Append-only."""

from django.db import models
from django.db.models import Q

from orders.models.orders import Order, OrderLine
from shop.access.models import Person


class PromiseBasis(models.Model):
    """What a promise was worked out from, packed, with its digest and the version of the code."""

    digest = models.CharField(max_length=64)
    inputs = models.JSONField(help_text="a document of `shipdates`, packed")
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
    plain_day = models.DateField(null=True, help_text="what a rule of thumb would have said, for the record")
    curve = models.JSONField(default=list, help_text="[day, ppm] around the day given, for the record")

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


class Question(models.Model):
    """A question about a ship day with its answer, from which a day can be given; kept for a month."""

    class State(models.TextChoices):
        WAITING = "waiting"
        ANSWERED = "answered"
        FAILED = "failed"

    asked_at = models.DateTimeField()
    by = models.CharField(max_length=80)
    customer_kind = models.CharField(max_length=8)
    order = models.ForeignKey(Order, null=True, on_delete=models.CASCADE, related_name="questions")
    lines = models.JSONField(help_text="[{item, pieces}], or the order's own lines")
    by_day = models.DateField(null=True)
    wanted_ppm = models.PositiveIntegerField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    key = models.CharField(max_length=64, blank=True, help_text="digest of what the answer rests on")
    seed = models.BigIntegerField()
    futures = models.PositiveIntegerField()
    answer = models.JSONField(default=dict)
    ideas = models.JSONField(null=True, help_text="what would bring it forward; follows the answer")
    document = models.TextField(blank=True, help_text="what the answer was based on: a document of `shipdates`, packed")
    digest = models.CharField(max_length=64, blank=True, help_text="of the document")
    code_version = models.CharField(max_length=40, blank=True)
    why_failed = models.CharField(max_length=300, blank=True)
    not_taken_at = models.DateTimeField(null=True, help_text="they did not take it; it counts as demand all the same")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(state__in=["waiting", "answered", "failed"]), name="question_state"),
            models.CheckConstraint(condition=Q(wanted_ppm__gte=1, wanted_ppm__lt=1_000_000), name="question_wanted"),
        ]
        indexes = [models.Index(fields=["asked_at"], name="question_age")]


class Rating(models.Model):
    """When the promised orders were last rated, and on what; exactly one row, which those who give days also lock."""

    id = models.SmallIntegerField(primary_key=True, default=1)
    key = models.CharField(max_length=64, blank=True)
    at = models.DateTimeField(null=True)
    seed = models.BigIntegerField(default=0)
    futures = models.PositiveIntegerField(default=0)
    code_version = models.CharField(max_length=40, blank=True)
    failed = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="rating_one_row")]


class RatedPromise(models.Model):
    """How sure a standing promise is as the shop stood when it was rated last, and when it began to slip."""

    promise = models.OneToOneField(Promise, on_delete=models.CASCADE, related_name="rated")
    chance_ppm = models.PositiveIntegerField()
    before_ppm = models.PositiveIntegerField(help_text="by the rating before")
    sure_day = models.DateField(null=True, help_text="the day that is as sure as was wanted; none: never")
    half_day = models.DateField(null=True)
    holds = models.CharField(max_length=200, blank=True, help_text="what holds it up")
    at = models.DateTimeField()
    slips_since = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(chance_ppm__lte=1_000_000, before_ppm__lte=1_000_000), name="rated_chance"
            )
        ]


class Notice(models.Model):
    """What a customer was told of a day that will not be kept, and what they answered."""

    class Answer(models.TextChoices):
        NONE = ""
        AGREED = "agreed"
        CANCELLED = "cancelled"

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="notices")
    promise = models.ForeignKey(Promise, null=True, on_delete=models.PROTECT, related_name="notices")
    told_at = models.DateTimeField()
    how = models.CharField(max_length=40, help_text="by e-mail, by telephone, by letter")
    text = models.TextField(max_length=4000)
    new_day = models.DateField(null=True, help_text="the day named in it; none: not known")
    answer = models.CharField(max_length=9, choices=Answer.choices, blank=True)
    answered_at = models.DateTimeField(null=True)
    refunded_at = models.DateTimeField(null=True)
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(answer__in=["", "agreed", "cancelled"]), name="notice_answer"),
            models.CheckConstraint(
                condition=Q(answer="", answered_at=None) | (~Q(answer="") & Q(answered_at__isnull=False)),
                name="notice_answered",
            ),
        ]
        indexes = [models.Index(fields=["order", "id"], name="notice_order")]

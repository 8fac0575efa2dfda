"""What every app needs a row for: the shop itself, jobs, messages, request keys and the audit line."""

import datetime as dt

from django.db import models
from django.db.models import F, Q

from shop.shared.hours import CARRIER_BY, CLOSES_AT, OPENS_AT

STEEL_PAPERS = (
    "With the steel: a certificate of the mill, EN 10204 type 3.1, for each mill heat, and the mill heat number on every"
    " bar or bundle."
)


class Shop(models.Model):
    """The shop's own settings; exactly one row."""

    id = models.SmallIntegerField(primary_key=True, default=1)
    name = models.CharField(max_length=120)
    address = models.CharField(max_length=300, blank=True, help_text="where goods are brought to; lines")
    phone = models.CharField(max_length=40, blank=True)
    email = models.CharField(max_length=254, blank=True, help_text="where answers to the shop's letters go")
    zone = models.CharField(max_length=60, default="UTC", help_text="IANA time zone name")
    currency = models.CharField(max_length=3, default="USD", help_text="ISO 4217")
    invented = models.BooleanField(default=False)
    night_hour = models.SmallIntegerField(default=6)
    quiet_days = models.CharField(
        max_length=40, blank=True, help_text="weekdays without mail: 5,6 for Saturday, Sunday"
    )
    closes_at = models.TimeField(default=CLOSES_AT, help_text="on the shop's own wall")
    open_days = models.CharField(max_length=40, default="0,1,2,3,4", help_text="weekdays: 0,1 for Monday, Tuesday")
    opens_at = models.TimeField(default=OPENS_AT)
    production_percent = models.PositiveSmallIntegerField(
        default=65, help_text="share of the open day that is production"
    )
    carrier_days = models.CharField(max_length=40, default="0,1,2,3,4", help_text="weekdays a carrier comes")
    carrier_by = models.TimeField(default=CARRIER_BY, help_text="what is packed by then goes the same day")
    oven_alone = models.BooleanField(default=False, help_text="may a load run on after closing")
    sure_one_off = models.PositiveSmallIntegerField(default=90, help_text="chance in 100 wanted of a day given")
    sure_dealer = models.PositiveSmallIntegerField(default=95)
    slips_below = models.PositiveSmallIntegerField(default=80, help_text="a day less sure than this slips")
    hold_minutes = models.PositiveSmallIntegerField(default=15)
    kerf_nm = models.BigIntegerField(default=1_587_500, help_text="what one cut of the saw takes, measured")
    scale_step_mg = models.BigIntegerField(default=453_592, help_text="the step the steel scale shows")
    tape_error_nm = models.BigIntegerField(default=1_587_500, help_text="how far one taped length may be off")
    saw_before_certificate = models.BooleanField(default=True, help_text="may steel be sawn while its paper is awaited")
    holding_percent = models.PositiveSmallIntegerField(
        default=20, help_text="what keeping stock costs a year, in 100 of its value"
    )
    order_cost_minor = models.BigIntegerField(default=1_500, help_text="what one order to a supplier costs the shop")
    spend_minor = models.BigIntegerField(null=True, help_text="money for buying now; empty: enough")
    dry_often = models.PositiveSmallIntegerField(default=98, help_text="of 100 reorders not run dry, counted often")
    dry_sometimes = models.PositiveSmallIntegerField(default=95)
    dry_seldom = models.PositiveSmallIntegerField(default=90)
    lp_gas_most_mg = models.BigIntegerField(default=136_077_711, help_text="LP-gas kept inside, empties count as full")
    flammable_most_ul = models.BigIntegerField(default=227_124_707, help_text="flammable liquids kept in the cabinet")
    steel_papers = models.CharField(max_length=300, blank=True, default=STEEL_PAPERS, help_text="asked for with steel")
    weekly_day = models.SmallIntegerField(default=6, help_text="weekday of the owner's letter; 6 for Sunday")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    kerf_nm__gte=0,
                    kerf_nm__lte=25_400_000,
                    scale_step_mg__gte=0,
                    scale_step_mg__lte=100_000_000,
                    tape_error_nm__gte=0,
                    tape_error_nm__lte=25_400_000,
                ),
                name="shop_saw_and_scale",
            ),
            models.CheckConstraint(
                condition=Q(holding_percent__lte=100, order_cost_minor__gte=0)
                & (Q(spend_minor=None) | Q(spend_minor__gte=0))
                & Q(lp_gas_most_mg__gte=0, flammable_most_ul__gte=0, weekly_day__gte=0, weekly_day__lte=6),
                name="shop_buying",
            ),
            models.CheckConstraint(
                condition=Q(
                    dry_often__gte=50,
                    dry_often__lte=99,
                    dry_sometimes__gte=50,
                    dry_sometimes__lte=99,
                    dry_seldom__gte=50,
                    dry_seldom__lte=99,
                ),
                name="shop_runs_dry",
            ),
            models.CheckConstraint(condition=Q(id=1), name="shop_one_row"),
            models.CheckConstraint(condition=Q(night_hour__gte=0, night_hour__lte=23), name="shop_night_hour"),
            models.CheckConstraint(condition=Q(closes_at__gt=dt.time(0)) & ~Q(open_days=""), name="shop_hours"),
            models.CheckConstraint(
                condition=Q(opens_at__lt=F("closes_at"), production_percent__gte=5, production_percent__lte=100)
                & ~Q(carrier_days=""),
                name="shop_production",
            ),
            models.CheckConstraint(
                condition=Q(sure_one_off__gte=50, sure_one_off__lte=99, sure_dealer__gte=50, sure_dealer__lte=99)
                & Q(slips_below__gte=1, slips_below__lte=99),
                name="shop_chances",
            ),
            models.CheckConstraint(condition=Q(hold_minutes__gte=1, hold_minutes__lte=1440), name="shop_hold_minutes"),
        ]


class ShutDays(models.Model):
    """A holiday, or the days of a shutdown: the shop is not open from the first to the last."""

    first = models.DateField()
    last = models.DateField()
    why = models.CharField(max_length=80)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(first__lte=F("last")), name="shut_days_in_order")]
        indexes = [models.Index(fields=["last"], name="shut_days_last")]


class Recipient(models.Model):
    """Someone who gets the night's e-mail."""

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    active = models.BooleanField(default=True)
    parts = models.JSONField(default=list, help_text="keys of the parts wanted; empty: all")
    weekly = models.BooleanField(default=False, help_text="gets the owner's letter of the week")


class Job(models.Model):
    """Something that must be done; the broker only wakes the worker that claims the row."""

    kind = models.CharField(max_length=40)
    dedupe = models.CharField(max_length=120)
    payload = models.JSONField(default=dict)
    due_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    done_at = models.DateTimeField(null=True)
    given_up_at = models.DateTimeField(null=True)
    last_error = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "dedupe"], name="job_once")]
        indexes = [
            models.Index(fields=["due_at"], name="job_due", condition=Q(done_at=None, given_up_at=None)),
        ]


class NightResult(models.Model):
    """What the night's check found on one local day of the shop."""

    local_date = models.DateField(unique=True)
    computed_at = models.DateTimeField()
    late = models.BooleanField(default=False)
    body = models.JSONField()


class Message(models.Model):
    """One e-mail to one recipient for one local day; the row is the fact, SMTP only carries it."""

    class State(models.TextChoices):
        WAITING = "waiting"
        CLAIMED = "claimed"
        HANDED = "handed"  # the text was being given to the server: from here on the outcome may be unknown
        SENT = "sent"
        GIVEN_UP = "given_up"

    kind = models.CharField(max_length=20)
    local_date = models.DateField()
    recipient = models.EmailField()
    message_id = models.CharField(max_length=200, unique=True)
    subject = models.CharField(max_length=300)
    text = models.TextField()
    html = models.TextField(blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    repeats = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    log = models.JSONField(default=list)
    by_hand = models.BooleanField(default=False, help_text="somebody touched send; the shop did not write it by itself")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "local_date", "recipient"], name="message_once"),
            models.CheckConstraint(condition=Q(repeats__lte=1), name="message_one_repeat"),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False) | (~Q(state="sent") & Q(sent_at=None)),
                name="message_sent_has_time",
            ),
        ]


class RequestKey(models.Model):
    """A request that was answered; the same key gives the same answer and no second effect."""

    client = models.CharField(max_length=80)
    method = models.CharField(max_length=8)
    path = models.CharField(max_length=300)
    key = models.CharField(max_length=128)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.TextField(blank=True)
    headers = models.JSONField(default=dict)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["client", "method", "path", "key"], name="request_key_once")]
        indexes = [models.Index(fields=["created_at"], name="request_key_age")]


class AuditLine(models.Model):
    """Who did what to what, written with the change; sealed afterwards into a chain by a job."""

    at = models.DateTimeField()
    by = models.CharField(max_length=80)
    action = models.CharField(max_length=60)
    subject = models.CharField(max_length=120)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    reason = models.CharField(max_length=300, blank=True)
    seal = models.CharField(max_length=64, blank=True)

    class Meta:
        indexes = [models.Index(fields=["subject", "id"], name="audit_subject")]


class Series(models.Model):
    """Gap-free numbers: the next one is taken in the transaction that uses it."""

    name = models.CharField(max_length=20, primary_key=True)
    next_number = models.BigIntegerField(default=1)

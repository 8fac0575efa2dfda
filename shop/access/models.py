"""People, their roles, the enrolled tablets, keys of the API and links of feeds."""

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q


class Role(models.TextChoices):
    """What a person may do; each role may do everything the one before it may."""

    HAND = "hand"
    DESK = "desk"
    OWNER = "owner"


class Person(AbstractBaseUser):
    """Someone of the shop. Without a password a person can only be a name tile on an enrolled tablet."""

    login = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=5, choices=Role.choices)
    is_active = models.BooleanField(default=True)
    on_tablet = models.BooleanField(default=True)

    USERNAME_FIELD = "login"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects = BaseUserManager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(role__in=["hand", "desk", "owner"]), name="person_role"),
        ]

    def __str__(self) -> str:
        return self.name


class Tablet(models.Model):
    """A shared device enrolled once by the owner; only a hash of its token is kept."""

    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_at = models.DateTimeField()
    enrolled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)


class ApiKey(models.Model):
    """A key of a program; prefix shown, only the SHA-256 of the whole kept."""

    name = models.CharField(max_length=80)
    prefix = models.CharField(max_length=16, unique=True)
    secret_hash = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField(default=list)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)


class FeedLink(models.Model):
    """A secret link for a spreadsheet, which can send no headers; one link a sheet, revoked alone."""

    name = models.CharField(max_length=80)
    public_id = models.CharField(max_length=16, unique=True)
    secret_hash = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)
    used = models.PositiveIntegerField(default=0)


class OneTimeLink(models.Model):
    """A link that makes the owner of an empty shop or sets a password, usable once."""

    purpose = models.CharField(max_length=20)
    token_hash = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(Person, null=True, on_delete=models.CASCADE, related_name="+")
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)


class LoginFailure(models.Model):
    """Failed tries per login name and address, counted in the database so that it holds across processes."""

    who = models.CharField(max_length=100, unique=True)
    failures = models.PositiveIntegerField(default=0)
    window_started_at = models.DateTimeField()

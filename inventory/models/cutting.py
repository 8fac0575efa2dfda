"""What the saw did to a bar; the equation of a cut is a constraint."""

from django.db import models
from django.db.models import F, Q

from inventory.models.items import Item
from inventory.models.steel import Bar
from inventory.models.stock import Entry


class Cut(models.Model):
    """One bar at the saw: what it became, all in nm, so that the parts are the whole.

    `difference_nm` is what the tape found missing (positive) or too much (negative) when the rest was measured.
    """

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="cut")
    bar = models.ForeignKey(Bar, on_delete=models.PROTECT, related_name="cuts")
    taken_nm = models.BigIntegerField(help_text="all that stood of the bar")
    pieces = models.PositiveIntegerField(default=0, help_text="all blanks together")
    pieces_nm = models.BigIntegerField(default=0, help_text="their lengths together")
    own_nm = models.BigIntegerField(default=0, help_text="length for own tooling")
    kerf_nm = models.BigIntegerField(help_text="width of one kerf")
    kerfs = models.PositiveIntegerField()
    kerfs_nm = models.BigIntegerField()
    trim_nm = models.BigIntegerField(default=0)
    scrap_nm = models.BigIntegerField(default=0)
    remnant_nm = models.BigIntegerField(default=0, help_text="all bars that are left")
    difference_nm = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    taken_nm=F("pieces_nm")
                    + F("own_nm")
                    + F("kerfs_nm")
                    + F("trim_nm")
                    + F("scrap_nm")
                    + F("remnant_nm")
                    + F("difference_nm")
                ),
                name="cut_parts_are_the_whole",
            ),
            models.CheckConstraint(
                condition=Q(
                    taken_nm__gte=1,
                    pieces_nm__gte=0,
                    own_nm__gte=0,
                    kerf_nm__gte=0,
                    kerfs_nm__gte=0,
                    trim_nm__gte=0,
                    scrap_nm__gte=0,
                    remnant_nm__gte=0,
                ),
                name="cut_nothing_negative",
            ),
            models.CheckConstraint(
                condition=Q(pieces=0, pieces_nm=0) | Q(pieces__gte=1, pieces_nm__gte=F("pieces")),
                name="cut_pieces_have_lengths",
            ),
        ]
        indexes = [models.Index(fields=["bar", "id"], name="cut_bar")]


class CutPiece(models.Model):
    """The blanks of one kind and length that a cut gave."""

    cut = models.ForeignKey(Cut, on_delete=models.PROTECT, related_name="kinds")
    blank = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    count = models.PositiveIntegerField()
    piece_nm = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["cut", "blank"], name="cut_piece_once"),
            models.CheckConstraint(condition=Q(count__gte=1, piece_nm__gte=1), name="cut_piece_is_some"),
        ]

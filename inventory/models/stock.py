"""The book: places, lots, holdings, the item's counters, entries with their movements, allocations."""

from django.db import models
from django.db.models import F, Q

from inventory.models.items import Item
from inventory.models.steel import Melt
from shop.access.models import Person


class Place(models.Model):
    """Where stock stands; outside places are where it comes from and goes to and carry no counters.

    Only stock at a sellable place and step 0 may be sold or used; what waits for a check, a cure or an answer
    stands at a place that is not sellable until a movement books it over.
    """

    class Kind(models.TextChoices):
        RACK = "rack"
        BIN = "bin"
        SHELF = "shelf"
        FLOOR = "floor"
        OVEN = "oven"
        DOOR = "door"  # received and not yet checked
        CURE = "cure"
        INSPECTION = "inspection"
        SECONDS = "seconds"
        NOT_TO_BE_USED = "not to be used"
        OUT = "out and coming back"
        SUPPLIER = "supplier"
        CUSTOMER = "customer"
        SCRAP = "scrap"
        SWARF = "swarf and scale"
        OWN_USE = "own use"
        WORKED_UP = "worked up"
        DIFFERENCE = "count difference"
        MOVE_IN = "moved in"

    INSIDE = ("rack", "bin", "shelf", "floor", "oven", "door", "cure", "inspection", "seconds", "not to be used")
    INSIDE_ALL = (*INSIDE, "out and coming back")
    SELLABLE = ("rack", "bin", "shelf")

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=20, choices=Kind.choices)
    inside = models.BooleanField()
    sellable = models.BooleanField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    inside=True,
                    kind__in=[
                        "rack",
                        "bin",
                        "shelf",
                        "floor",
                        "oven",
                        "door",
                        "cure",
                        "inspection",
                        "seconds",
                        "not to be used",
                        "out and coming back",
                    ],
                )
                | Q(
                    inside=False,
                    kind__in=[
                        "supplier",
                        "customer",
                        "scrap",
                        "swarf and scale",
                        "own use",
                        "worked up",
                        "count difference",
                        "moved in",
                    ],
                ),
                name="place_inside_by_kind",
            ),
            models.CheckConstraint(
                condition=Q(sellable=False) | Q(kind__in=["rack", "bin", "shelf"]), name="place_sellable_by_kind"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Entry(models.Model):
    """One thing that happened: when, typed when, by whom, why. Append-only."""

    class Kind(models.TextChoices):
        MOVE_IN = "moved in"
        DELIVERY = "delivery"
        SHIPMENT = "shipment"
        RETURN = "return"
        INSPECTION = "inspection"
        MADE_UP = "made up"
        TAKE_OUT = "take-out"
        TAKE_BACK = "take-back"
        USE = "use"
        MOVE = "move"
        COUNT = "count"
        CUT = "cut"
        PAINT_LOST = "paint lost"
        SENT_BACK = "sent back"
        CORRECTION = "correction"
        NOT_TO_BE_USED = "not to be used"
        RUN_STARTED = "run started"
        RUN_SPLIT = "run split"
        RUN_COUNT = "run count"
        OVEN = "oven"
        HAFTED = "hafted"
        SORTED = "handles sorted"
        REVERSAL = "reversal"

    kind = models.CharField(max_length=20, choices=Kind.choices)
    happened_at = models.DateTimeField()
    booked_at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    device = models.CharField(max_length=60, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    reverses = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="reversed_by")
    lines = models.PositiveIntegerField()
    seal = models.BigIntegerField(help_text="checksum of the row, so that check_book names an altered one")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="reversal", reverses__isnull=False) | (~Q(kind="reversal") & Q(reverses=None)),
                name="entry_reversal_names_it",
            ),
            models.CheckConstraint(condition=Q(booked_at__gte=F("happened_at")), name="entry_not_from_the_future"),
            models.CheckConstraint(condition=Q(lines__gte=1), name="entry_has_lines"),
        ]
        indexes = [models.Index(fields=["happened_at", "id"], name="entry_happened")]


class Lot(models.Model):
    """A quantity of one item with one origin; never two melts in one."""

    class Quality(models.TextChoices):
        FIRST = "first"
        SECOND = "second"

    code = models.CharField(max_length=20, unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    melt = models.ForeignKey(Melt, null=True, on_delete=models.PROTECT, related_name="lots")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="lots_made", help_text="its origin")
    run = models.ForeignKey("inventory.Run", null=True, on_delete=models.PROTECT, related_name="lots")
    delivery_line = models.ForeignKey(
        "inventory.DeliveryLine", null=True, on_delete=models.PROTECT, related_name="lots"
    )
    quality = models.CharField(max_length=6, choices=Quality.choices, default=Quality.FIRST)
    cost_minor = models.BigIntegerField(null=True, help_text="landed cost of the whole lot")
    born_at = models.DateTimeField()
    usable_from = models.DateTimeField(null=True, help_text="when glue and oil are dry")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quality__in=["first", "second"]), name="lot_quality"),
            models.CheckConstraint(condition=Q(cost_minor=None) | Q(cost_minor__gte=0), name="lot_cost"),
        ]
        indexes = [
            models.Index(fields=["item", "id"], name="lot_item"),
            models.Index(fields=["melt", "id"], name="lot_melt"),
        ]

    def __str__(self) -> str:
        return self.code


class LotParent(models.Model):
    """Which lot came out of which, and how much of the parent went in."""

    child = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="parents")
    parent = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="children")
    quantity = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["child", "parent"], name="lot_parent_once"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="lot_parent_quantity"),
            models.CheckConstraint(condition=~Q(child=F("parent")), name="lot_parent_not_itself"),
        ]
        indexes = [models.Index(fields=["parent", "child"], name="lot_parent_forward")]


class Holding(models.Model):
    """How much of a lot stands at a place and step, and how much of that is set aside. Written by the ledger only."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="holdings")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="holdings")
    step = models.PositiveSmallIntegerField(default=0)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="holdings")
    on_hand = models.BigIntegerField(default=0)
    allocated = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "place", "step"], name="holding_once"),
            models.CheckConstraint(
                condition=Q(allocated__gte=0, on_hand__gte=F("allocated")), name="holding_never_oversold"
            ),
        ]
        indexes = [
            models.Index(fields=["item", "lot"], name="holding_free", condition=Q(on_hand__gt=F("allocated"))),
            models.Index(fields=["item", "place"], name="holding_item_place"),
        ]


class ItemStock(models.Model):
    """The item's counters: what may be sold, what is set aside, what lines wait for. Mutex and version in one."""

    item = models.OneToOneField(Item, primary_key=True, on_delete=models.PROTECT, related_name="stock")
    sellable = models.BigIntegerField(default=0)
    allocated = models.BigIntegerField(default=0)
    waiting = models.BigIntegerField(default=0)
    version = models.BigIntegerField(default=0)
    changed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(allocated__gte=0, sellable__gte=F("allocated")), name="item_stock_never_oversold"
            ),
            models.CheckConstraint(condition=Q(waiting__gte=0), name="item_stock_waiting"),
        ]


class Movement(models.Model):
    """One line of the book: what, which lot, from where, to where, how much. Append-only."""

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="movements")
    line = models.PositiveSmallIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    from_place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    from_step = models.PositiveSmallIntegerField(default=0)
    to_place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    to_step = models.PositiveSmallIntegerField(default=0)
    qty = models.BigIntegerField()
    mass_mg = models.BigIntegerField(null=True)
    basis = models.CharField(max_length=10, blank=True)
    seal = models.BigIntegerField(help_text="checksum of the row, so that check_book names an altered one")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["entry", "line"], name="movement_line_once"),
            models.CheckConstraint(condition=Q(qty__gte=1), name="movement_moves_something"),
            models.CheckConstraint(
                condition=~Q(from_place=F("to_place")) | ~Q(from_step=F("to_step")), name="movement_goes_somewhere"
            ),
            models.CheckConstraint(condition=Q(mass_mg=None) | Q(mass_mg__gte=0), name="movement_mass"),
            models.CheckConstraint(condition=Q(basis__in=["", "measured", "worked out"]), name="movement_basis"),
        ]
        indexes = [
            models.Index(fields=["lot", "id"], name="movement_lot"),
            models.Index(fields=["item", "id"], name="movement_item"),
        ]


class Allocation(models.Model):
    """Stock set aside. It knows no owner; a hold or an order line points to it."""

    made_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [
            models.Index(
                fields=["expires_at"],
                name="allocation_expiring",
                condition=Q(closed_at=None, expires_at__isnull=False),
            )
        ]


class AllocationPart(models.Model):
    """So much of one holding, set aside by one allocation."""

    allocation = models.ForeignKey(Allocation, on_delete=models.PROTECT, related_name="parts")
    holding = models.ForeignKey(Holding, on_delete=models.PROTECT, related_name="allocation_parts")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    qty = models.BigIntegerField()
    open = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["allocation", "holding"], condition=Q(open=True), name="allocation_part_once"
            ),
            models.CheckConstraint(condition=Q(qty__gte=1), name="allocation_part_quantity"),
        ]
        indexes = [
            models.Index(fields=["holding"], name="allocation_part_open", condition=Q(open=True)),
            models.Index(fields=["item"], name="allocation_part_item_open", condition=Q(open=True)),
        ]


class RefusedDemand(models.Model):
    """What was asked for and could not be given; the forecast needs it."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="refused")
    qty = models.BigIntegerField()
    available = models.BigIntegerField()
    at = models.DateTimeField()
    asked_by = models.CharField(max_length=80, blank=True)
    one_off = models.BooleanField(default=False, help_text="will not come again; the forecast leaves it out")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(qty__gte=1), name="refused_demand_quantity")]
        indexes = [models.Index(fields=["item", "at"], name="refused_demand_item")]


class TakeOut(models.Model):
    """Pieces taken from stock for a sample, gift, own tooling, trial piece, photo or show; the last two come back."""

    class Why(models.TextChoices):
        SAMPLE = "sample"
        GIFT = "gift"
        OWN_TOOLING = "own tooling"
        TRIAL = "trial piece"
        PHOTO = "photo"
        SHOW = "show"

    COMING_BACK = ("photo", "show")

    why = models.CharField(max_length=12, choices=Why.choices)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    qty = models.BigIntegerField()
    back = models.BigIntegerField(default=0)
    for_whom = models.CharField(max_length=120, blank=True)
    due_back = models.DateField(null=True)
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="take_out")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(qty__gte=1, back__gte=0, back__lte=F("qty")), name="take_out_quantity"),
            models.CheckConstraint(
                condition=Q(why__in=["sample", "gift", "own tooling", "trial piece", "photo", "show"]),
                name="take_out_why",
            ),
            models.CheckConstraint(condition=Q(back=0) | Q(why__in=["photo", "show"]), name="take_out_comes_back"),
        ]


class BookClose(models.Model):
    """What a holding stood at when a month was closed; check_book runs from the last close."""

    month = models.DateField()
    holding = models.ForeignKey(Holding, on_delete=models.PROTECT, related_name="+")
    qty = models.BigIntegerField()
    last_movement = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["month", "holding"], name="book_close_once")]

"""Tables of the inventory app, re-exported so that callers name the model and not the file."""

from inventory.models.cut_plans import Blade, CutPlan, CutPlanBar, CutPlanLine, CutRules
from inventory.models.cutting import Cut, CutPiece
from inventory.models.items import Item, Pattern, RecipePart, Route, Step
from inventory.models.papers import Certificate, Claim, DeliveryPhoto, ElementLimit, LimitRow
from inventory.models.purchasing import (
    Delivery,
    DeliveryLine,
    PurchaseOrder,
    PurchaseOrderLine,
    Supplier,
)
from inventory.models.steel import BAR_ALPHABET, Bar, Grade, Melt, Section
from inventory.models.stock import (
    Allocation,
    AllocationPart,
    BookClose,
    Entry,
    Holding,
    ItemStock,
    Lot,
    LotParent,
    Movement,
    Place,
    RefusedDemand,
    TakeOut,
)

__all__ = [
    "BAR_ALPHABET",
    "Allocation",
    "AllocationPart",
    "Bar",
    "Blade",
    "BookClose",
    "Certificate",
    "Claim",
    "Cut",
    "CutPiece",
    "CutPlan",
    "CutPlanBar",
    "CutPlanLine",
    "CutRules",
    "Delivery",
    "DeliveryLine",
    "DeliveryPhoto",
    "ElementLimit",
    "Entry",
    "Grade",
    "Holding",
    "Item",
    "ItemStock",
    "LimitRow",
    "Lot",
    "LotParent",
    "Melt",
    "Movement",
    "Pattern",
    "Place",
    "PurchaseOrder",
    "PurchaseOrderLine",
    "RecipePart",
    "RefusedDemand",
    "Route",
    "Section",
    "Step",
    "Supplier",
    "TakeOut",
]

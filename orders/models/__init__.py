"""Tables of the orders app, re-exported so that callers name the model and not the file."""

from orders.models.brought_in import BroughtIn, RunForLine
from orders.models.customers import Customer
from orders.models.orders import Hold, Money, Order, OrderLine
from orders.models.promises import Promise, PromiseBasis
from orders.models.shipping import (
    Return,
    ReturnOutcome,
    Shipment,
    ShipmentLine,
    ShippedLot,
)

__all__ = [
    "BroughtIn",
    "Customer",
    "Hold",
    "Money",
    "Order",
    "OrderLine",
    "Promise",
    "PromiseBasis",
    "Return",
    "ReturnOutcome",
    "RunForLine",
    "Shipment",
    "ShipmentLine",
    "ShippedLot",
]

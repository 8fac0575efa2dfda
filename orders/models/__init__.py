"""Tables of the orders app, re-exported so that callers name the model and not the file."""

from orders.models.brought_in import BroughtIn, RunForLine
from orders.models.customers import Customer
from orders.models.orders import PROGRAM_SOURCE, Hold, Money, Order, OrderLine
from orders.models.promises import Notice, Promise, PromiseBasis, Question, RatedPromise, Rating
from orders.models.releases import OWN_SOURCE, Release
from orders.models.reorder import ForShelf, Learned
from orders.models.shipping import (
    Return,
    ReturnOutcome,
    Shipment,
    ShipmentLine,
    ShippedLot,
)
from orders.models.weeks import WeekPin

__all__ = [
    "OWN_SOURCE",
    "PROGRAM_SOURCE",
    "BroughtIn",
    "Customer",
    "ForShelf",
    "Hold",
    "Learned",
    "Money",
    "Notice",
    "Order",
    "OrderLine",
    "Promise",
    "PromiseBasis",
    "Question",
    "RatedPromise",
    "Rating",
    "Release",
    "Return",
    "ReturnOutcome",
    "RunForLine",
    "Shipment",
    "ShipmentLine",
    "ShippedLot",
    "WeekPin",
]

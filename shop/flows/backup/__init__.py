"""Dated copies of everything kept, in a second folder, and the way back from one."""

from shop.flows.backup.making import Made, make, nightly
from shop.flows.backup.restoring import Restored, restore

__all__ = ["Made", "Restored", "make", "nightly", "restore"]

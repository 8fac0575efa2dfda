"""Gap-free numbers of orders, deliveries, shipments, returns and purchase orders."""

from django.db.models import F

from shop.shared import transactions
from shop.shared.models import Series


def take(name: str) -> int:
    """Return the next number of a series; a rolled-back transaction gives it back, so no number is missing.

    The row stays locked until the caller's transaction ends, so it is taken after the stock rows, as the last lock.
    """
    transactions.assert_open()
    step_on = Series.objects.filter(name=name)
    if not step_on.update(next_number=F("next_number") + 1):
        # Two first takers meet here: one row goes in, the other insert waits for it and does nothing.
        Series.objects.bulk_create([Series(name=name, next_number=1)], ignore_conflicts=True)
        step_on.update(next_number=F("next_number") + 1)
    return step_on.values_list("next_number", flat=True).get() - 1

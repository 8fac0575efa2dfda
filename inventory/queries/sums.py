"""Sums of other rows as an expression, so that the database compares and only what differs is read."""

from typing import Any

from django.db.models import BigIntegerField, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Cast, Coalesce


def total(rows: QuerySet[Any, Any], field: str = "qty", /, **same: str) -> Coalesce:
    """Return the sum of a field over the rows that share these values with the outer row, 0 where there are none.

    `total(DeliveryLine.objects.filter(...), order_line="pk")`: the rows' column, and the outer row's it must equal.
    """
    joined = rows.filter(**{column: OuterRef(outer) for column, outer in same.items()}).order_by()
    summed = joined.values(*same).annotate(the_sum=Cast(Sum(field), BigIntegerField())).values("the_sum")
    return Coalesce(Subquery(summed), 0, output_field=BigIntegerField())

"""The grade book as it stands: the limits of a grade by document and edition, and every grade with what is kept of it."""

import functools

from django.db.models import QuerySet

from inventory.calc.grade_limits import GradeLimits, Limit, limits, percent_text, with_ordered
from inventory.models import Grade, LimitRow
from inventory.queries.cuttable import UNKNOWN_GRADE


def limits_of(grade: Grade, *, as_ordered: str = "") -> list[GradeLimits]:
    """Return the rows of a grade as the checks want them; what was agreed on the order goes before the tables."""
    rows = LimitRow.objects.filter(grade=grade).prefetch_related("elements").order_by("document", "edition", "id")
    agreed = limits(as_ordered)
    return [functools.reduce(with_ordered, agreed, as_limits(grade.code, row)) for row in rows]


def as_limits(code: str, row: LimitRow) -> GradeLimits:
    """Return one row as the checks want it."""
    elements = sorted(row.elements.all(), key=lambda one: one.place)
    return GradeLimits(
        code,
        row.document,
        row.edition,
        tuple(Limit(one.element, one.least_ppm, one.most_ppm) for one in elements),
        row.source,
        note=row.note,
    )


def as_typed(row: LimitRow) -> str:
    """Return the limits of a row as they are typed."""
    words = []
    for one in sorted(row.elements.all(), key=lambda one: one.place):
        most = percent_text(one.element, one.most_ppm) if one.most_ppm is not None else "100"
        least = f"{percent_text(one.element, one.least_ppm)}-" if one.least_ppm is not None else ""
        words.append(f"{one.element} {least}{most}")
    return " ".join(words)


def grades() -> QuerySet[Grade]:
    """Select every grade that can be named, with its rows of limits."""
    return Grade.objects.exclude(code=UNKNOWN_GRADE).prefetch_related("limit_rows__elements").order_by("code")


def grade(number: int) -> Grade | None:
    """Return a grade by its number in the table."""
    return Grade.objects.filter(pk=number).first()


def rows_of(grade: Grade) -> QuerySet[LimitRow]:
    """Select the rows of a grade by document and edition."""
    return LimitRow.objects.filter(grade=grade).prefetch_related("elements").order_by("document", "edition", "id")

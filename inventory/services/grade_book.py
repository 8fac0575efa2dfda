"""The grade book: what each document and edition allows in a grade, kept as data that the shop may change."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc import grades_seed
from inventory.calc.grade_limits import NOT_STATED, GradeLimits, Limit, Standing, limits, same_name
from inventory.calc.steel import DENSITY_UG_PER_CM3, LEAST_DENSITY, MOST_DENSITY
from inventory.models import ElementLimit, Grade, LimitRow
from inventory.queries.cuttable import UNKNOWN_GRADE
from inventory.queries.grade_book import as_typed
from inventory.services import catalogue
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

_UG_PER_CM3 = 1_000_000  # micrograms in a gram


@dataclass(frozen=True, slots=True)
class TypedRow:
    """A row of the grade book as typed; limits as the tables print them: C .43-.50 Mn .60-.90 P .040."""

    document: str
    edition: str
    limits: str
    source: str
    note: str = ""
    carried: bool = False


def seed() -> int:
    """Fill an empty grade book with the thirteen grades of the trade; one that has rows is left alone. Return how many."""
    transactions.assert_open()
    if LimitRow.objects.exists():
        return 0
    for begun in grades_seed.GRADES:
        made = catalogue.grade(begun.code, density_ug_per_cm3=begun.density_ug_per_cm3)
        if not made.density_source:
            Grade.objects.filter(pk=made.pk, density_ug_per_cm3=begun.density_ug_per_cm3).update(
                density_source=begun.density_source
            )
    grades = {grade.code: grade for grade in Grade.objects.all()}
    for row in grades_seed.ROWS:
        _write(grades[row.grade], row)
    return len(grades_seed.ROWS)


def unknown_grade() -> Grade:
    """Return the grade of steel that nobody can name any more; no blank is of it, so nothing sold is made of it."""
    return catalogue.grade(
        UNKNOWN_GRADE, density_ug_per_cm3=DENSITY_UG_PER_CM3, note="the paint end is lost: own tooling only"
    )


def save_row(grade: Grade, typed: TypedRow, *, at: dt.datetime, by: Actor, row: LimitRow | None = None) -> LimitRow:
    """Write a row of limits, new or in place of what it said; certificates read before keep what was found then."""
    transactions.assert_open()
    _lock(grade, row)
    read = _read(grade, typed)
    others = grade.limit_rows.exclude(pk=row.pk) if row else grade.limit_rows.all()
    if any(same_name(one.document, read.document) and same_name(one.edition, read.edition) for one in others):
        raise Invalid.field(
            "edition", f"Edition: {grade.code} has limits of {read.document}, edition {read.edition}; change that row."
        )
    before = {"document": row.document, "edition": row.edition, "limits": as_typed(row)} if row else None
    if row is None:
        row = _write(grade, read)
    else:
        LimitRow.objects.filter(pk=row.pk).update(
            document=read.document, edition=read.edition, source=read.source, note=read.note, standing=read.standing
        )
        row.elements.all().delete()
        _write_elements(row, read.limits)
        row = LimitRow.objects.get(pk=row.pk)
    audit.write(
        at=at,
        by=by.label,
        action="grade limits written",
        subject=f"grade {grade.code}",
        before=before,
        after={"document": read.document, "edition": read.edition, "limits": as_typed(row)},
    )
    return row


def drop_row(row: LimitRow, *, at: dt.datetime, by: Actor) -> None:
    """Take a row out of the grade book; no certificate is judged by it any more."""
    transactions.assert_open()
    _lock(row.grade, row)
    audit.write(
        at=at,
        by=by.label,
        action="grade limits dropped",
        subject=f"grade {row.grade.code}",
        before={"document": row.document, "edition": row.edition, "limits": as_typed(row)},
    )
    row.delete()


def set_density(grade: Grade, density: str, source: str, *, at: dt.datetime, by: Actor) -> Grade:
    """Change a grade's density, typed in grams per cubic centimetre; weights worked out from now on use it."""
    transactions.assert_open()
    try:
        read = round(float(density.strip().replace(",", ".")) * _UG_PER_CM3)
    except (ValueError, OverflowError):
        read = 0
    if not LEAST_DENSITY <= read <= MOST_DENSITY:
        raise Invalid.field("density", "Density: write grams per cubic centimetre, such as 7.85.")
    if not source.strip():
        raise Invalid.field("source", "Source: write where the density was read, or how it was measured.")
    before = {"density_ug_per_cm3": grade.density_ug_per_cm3}
    Grade.objects.filter(pk=grade.pk).update(density_ug_per_cm3=read, density_source=source.strip()[:200])
    audit.write(
        at=at,
        by=by.label,
        action="density changed",
        subject=f"grade {grade.code}",
        before=before,
        after={"density_ug_per_cm3": read, "source": source.strip()[:200]},
    )
    grade.refresh_from_db()
    return grade


def hold_still(grade: Grade) -> Grade:
    """Hold a grade and its rows until the transaction ends, and return it as it stands."""
    transactions.assert_open()
    return Grade.objects.select_for_update(no_key=True).get(pk=grade.pk)


def find_row(pk: int) -> LimitRow:
    """Return a row by its number."""
    row = LimitRow.objects.select_related("grade").prefetch_related("elements").filter(pk=pk).first()
    if row is None:
        raise NotFound("The grade book has no such row; look it up under its grade.")
    return row


def _lock(grade: Grade, row: LimitRow | None) -> None:
    """Hold a grade's rows still, and refuse a row that somebody else dropped meanwhile."""
    hold_still(grade)
    if row is not None and not LimitRow.objects.filter(pk=row.pk).exists():
        raise NotFound("This row was dropped from the grade book meanwhile; look up the grade again.")


def _read(grade: Grade, typed: TypedRow) -> GradeLimits:
    if not typed.document.strip():
        raise Invalid.field("document", "Document: write which standard or list says so, such as ASTM A29/A29M.")
    if not typed.source.strip():
        raise Invalid.field("source", "Source: write where the figures were read.")
    try:
        read = limits(typed.limits.replace("–", "-"))
        return GradeLimits(
            grade.code,
            typed.document.strip()[:60],
            typed.edition.strip()[:40] or NOT_STATED,
            read,
            typed.source.strip()[:300],
            standing=Standing.CARRIED if typed.carried else Standing.SEEN,
            note=typed.note.strip()[:400],
        )
    except (ValueError, ArithmeticError) as wrong:
        raise Invalid.field(
            "limits",
            "Limits: write symbol and percent in turn, such as C .43-.50 Mn .60-.90 P .040; each element once.",
        ) from wrong


def _write(grade: Grade, row: GradeLimits) -> LimitRow:
    made = LimitRow.objects.create(
        grade=grade,
        document=row.document,
        edition=row.edition,
        source=row.source[:300],
        standing=row.standing,
        note=row.note[:400],
    )
    _write_elements(made, row.limits)
    return made


def _write_elements(row: LimitRow, read: Sequence[Limit]) -> None:
    ElementLimit.objects.bulk_create(
        [
            ElementLimit(row=row, place=place, element=one.element, least_ppm=one.least_ppm, most_ppm=one.most_ppm)
            for place, one in enumerate(read, 1)
        ]
    )

"""The grade book: densities, and limits by document and edition."""

from decimal import Decimal
from typing import Any, ClassVar

from inventory.calc.grade_limits import percent_text
from inventory.models import Grade, LimitRow
from inventory.queries import grade_book, papers
from shop.api import paging, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound

TAG = "Steel on paper"
_UG_PER_G = 1_000_000

LIMIT = {
    "least_ppm": shapes.maybe(shapes.WHOLE),
    "most_ppm": shapes.maybe(shapes.WHOLE),
    "least_percent": shapes.maybe(shapes.TEXT),
    "most_percent": shapes.maybe(shapes.TEXT),
}
ROW = shapes.thing(
    id=shapes.WHOLE,
    document=shapes.TEXT,
    edition=shapes.TEXT,
    as_printed=shapes.TEXT,
    elements=shapes.many(shapes.thing(element=shapes.TEXT, **LIMIT)),
    source=shapes.TEXT,
    standing=shapes.words(*LimitRow.Standing.values),
    note=shapes.TEXT,
)
DENSITY = shapes.thing(g_per_cm3=shapes.TEXT, source=shapes.TEXT)
GRADE = shapes.thing(
    code=shapes.TEXT,
    note=shapes.TEXT,
    density=DENSITY,
    limits=shapes.many(ROW),
)
_CARBON = {"least_ppm": 4300, "most_ppm": 5000, "least_percent": "0.43", "most_percent": "0.50"}
ROW_EXAMPLE = {
    "id": 12,
    "document": "Invented document",
    "edition": "16",
    "as_printed": "C 0.43-0.50 P 0.040",
    "elements": [
        {"element": "C", **_CARBON},
        {"element": "P", "least_ppm": None, "most_ppm": 400, "least_percent": None, "most_percent": "0.040"},
    ],
    "source": "a copy of the document",
    "standing": "as printed in the source",
    "note": "",
}
_GRADE_EXAMPLE = {
    "code": "1045",
    "note": "",
    "density": {"g_per_cm3": "7.85", "source": "the convention of bar-weight tables"},
    "limits": [ROW_EXAMPLE],
}


def grade_shown(grade: Grade) -> dict[str, Any]:
    """Return a grade as the API shows it."""
    rows = sorted(grade.limit_rows.all(), key=lambda row: (row.document, row.edition, row.pk))
    return {
        "code": grade.code,
        "note": grade.note,
        "density": density_shown(grade),
        "limits": [row_shown(row) for row in rows],
    }


def density_shown(grade: Grade) -> dict[str, str]:
    """Return a grade's density as the API shows it."""
    density = Decimal(grade.density_ug_per_cm3) / _UG_PER_G
    return {"g_per_cm3": f"{density.normalize():f}", "source": grade.density_source}


def row_shown(row: LimitRow) -> dict[str, Any]:
    """Return a row of limits as the API shows it."""
    elements = sorted(row.elements.all(), key=lambda one: one.place)
    return {
        "id": row.pk,
        "document": row.document,
        "edition": row.edition,
        "as_printed": grade_book.as_typed(row),
        "elements": [
            {"element": one.element, **limit_shown(one.element, one.least_ppm, one.most_ppm)} for one in elements
        ],
        "source": row.source,
        "standing": row.standing,
        "note": row.note,
    }


def limit_shown(element: str, least: int | None, most: int | None) -> dict[str, Any]:
    """Return a limit in ppm and as the tables print it."""
    return {
        "least_ppm": least,
        "most_ppm": most,
        "least_percent": None if least is None else percent_text(element, least),
        "most_percent": None if most is None else percent_text(element, most),
    }


class Grades(Endpoint):
    """The grade book."""

    operations: ClassVar = {
        "GET": Operation(
            name="listGrades",
            summary="List grades",
            tag=TAG,
            words="Grades by code, each with its density and its limits by document and edition, in that table's order.",
            query=paging.PARAMETERS,
            replies={
                200: Reply(
                    "One page of grades.", shapes.page(GRADE), {"rows": [_GRADE_EXAMPLE], "next": None}, ("Link",)
                )
            },
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        page = paging.page(grade_book.grades(), call.request, dict(call.query), by="code")
        return reply({"rows": [grade_shown(grade) for grade in page.rows], "next": page.next}, headers=page.headers)


class OneGrade(Endpoint):
    """One grade."""

    operations: ClassVar = {
        "GET": Operation(
            name="readGrade",
            summary="Read one grade",
            tag=TAG,
            words="A grade by its code: density and limits, in ppm and as printed, each with where it was read.",
            replies={200: Reply("The grade.", GRADE, _GRADE_EXAMPLE)},
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        found = papers.grade(call.path["grade"])
        if found is None:
            raise NotFound(f"There is no grade {call.path['grade']}; read the list of grades.")
        return reply(grade_shown(found))

"""Writing in the grade book: rows of limits by document and edition, densities. Each row is changed as it was read."""

from typing import Any, ClassVar
from urllib.parse import quote

from inventory.models import Grade, LimitRow
from inventory.queries import papers
from inventory.services import grade_book as book
from inventory.services.grade_book import TypedRow
from shop.api import etags, fields
from shop.api.grades import DENSITY, ROW, ROW_EXAMPLE, TAG, density_shown, row_shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, nothing, reply
from shop.shared.errors import Invalid, NotFound

_DENSITY = {"g_per_cm3": "7.85", "source": "the convention of bar-weight tables"}
_LIMITS: dict[str, Any] = {
    "document": "Invented document",
    "edition": "16",
    "limits": "C .43-.50 P .040",
    "source": "a copy of the document",
}


class LimitsBody(fields.Body):
    """A row of limits, as its document prints them."""

    document = fields.Text(longest=60)
    edition = fields.Text(longest=40, required=False, help_text="As printed; without it, not stated.")
    limits = fields.Text(
        longest=400,
        help_text="Symbol and percent of the mass in turn, in the table's order: C .43-.50 Mn .60-.90 P .040.",
    )
    # The framework has an attribute of this name too, but of a field inside a body, which a body of its own is not.
    source = fields.Text(longest=300, help_text="Where the figures were read.")  # type: ignore[assignment]
    note = fields.Text(longest=400, required=False)
    carried = fields.YesNo(required=False, help_text="Whether they are partly carried over from another list.")


class DensityBody(fields.Body):
    """A density."""

    g_per_cm3 = fields.Quantity(help_text="Grams per cubic centimetre.")
    source = fields.Text(  # type: ignore[assignment]
        longest=200, help_text="Where it was read, or how it was measured."
    )


def _grade(call: Call) -> Grade:
    found = papers.grade(call.path["grade"])
    if found is None:
        raise NotFound(f"There is no grade {call.path['grade']}; read the list of grades.")
    return found


def _row(call: Call, grade: Grade) -> LimitRow:
    row = book.find_row(call.path["id"])
    if row.grade_id != grade.pk:
        raise NotFound(f"Row {call.path['id']} is of another grade; read {grade.code} for its rows.")
    return row


def _held(call: Call) -> LimitRow:
    """Return the row of the address, held still and as the caller read it."""
    row = _row(call, book.hold_still(_grade(call)))
    etags.check(call.tags, _tag(reply(row_shown(row))))
    return row


def _tag(now: Answer) -> str:
    # Rows and densities have no version of their own; the tag of the bytes changes with everything that is in them.
    return now.headers["ETag"].strip('"')


def _typed(call: Call) -> TypedRow:
    return TypedRow(**{"edition": "", **call.body})


class GradeLimits(Endpoint):
    """The rows of limits of one grade."""

    operations: ClassVar = {
        "POST": Operation(
            name="writeLimits",
            summary="Write limits of a grade",
            tag=TAG,
            words=(
                "A new row of the grade book: what one edition of one document allows. Certificates that are filed from"
                " now on are judged by it; what was found of others before stays as it was."
            ),
            body=LimitsBody,
            example=_LIMITS,
            replies={201: Reply("The row.", ROW, ROW_EXAMPLE, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Write it."""
        grade = _grade(call)
        made = book.save_row(grade, _typed(call), at=call.at, by=call.actor)
        return reply_created(reply(row_shown(made)), f"/api/v1/grades/{quote(grade.code)}/limits/{made.pk}")


class OneRow(Endpoint):
    """One row of limits."""

    operations: ClassVar = {
        "GET": Operation(
            name="readLimits",
            summary="Read one row of limits",
            tag=TAG,
            words="A row of the grade book by its id, with the tag that changing it asks for.",
            replies={200: Reply("The row.", ROW, ROW_EXAMPLE)},
            snapshot=True,
        ),
        "PUT": Operation(
            name="changeLimits",
            summary="Write a row of limits anew",
            tag=TAG,
            words="The whole row as sent; what is left out is empty. What was found of certificates before stays.",
            body=LimitsBody,
            example=_LIMITS,
            replies={200: Reply("The row.", ROW, ROW_EXAMPLE)},
            match=True,
        ),
        "DELETE": Operation(
            name="dropLimits",
            summary="Drop a row of limits",
            tag=TAG,
            words="Takes the row out of the grade book; no certificate is judged by it any more.",
            replies={204: Reply("It is out of the grade book.")},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(row_shown(_row(call, _grade(call))))

    def put(self, call: Call) -> Answer:
        """Write it anew."""
        row = _held(call)
        return reply(row_shown(book.save_row(row.grade, _typed(call), row=row, at=call.at, by=call.actor)))

    def delete(self, call: Call) -> Answer:
        """Drop it."""
        book.drop_row(_held(call), at=call.at, by=call.actor)
        return nothing()


class Density(Endpoint):
    """The density of one grade."""

    operations: ClassVar = {
        "GET": Operation(
            name="readDensity",
            summary="Read a grade's density",
            tag=TAG,
            words="The density that weights are worked out with, and where it was read.",
            replies={200: Reply("The density.", DENSITY, _DENSITY)},
        ),
        "PUT": Operation(
            name="changeDensity",
            summary="Change a grade's density",
            tag=TAG,
            words="Weights worked out from now on use it; those that were kept stay as they are.",
            body=DensityBody,
            example=_DENSITY,
            replies={200: Reply("The density.", DENSITY, _DENSITY)},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(density_shown(_grade(call)))

    def put(self, call: Call) -> Answer:
        """Change it."""
        grade, body = book.hold_still(_grade(call)), call.body
        etags.check(call.tags, _tag(reply(density_shown(grade))))
        try:
            made = book.set_density(grade, body["g_per_cm3"], body["source"], at=call.at, by=call.actor)
        except Invalid as refusal:
            refusal.fields = {name.replace("density", "g_per_cm3"): said for name, said in refusal.fields.items()}
            raise
        return reply(density_shown(made))

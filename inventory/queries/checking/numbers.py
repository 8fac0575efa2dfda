"""Numbers that people read aloud: given out one after the other, none missing, none twice."""

from collections.abc import Iterator, Mapping
from typing import Any

from django.db.models import QuerySet

from inventory.queries.checking.span import CHUNK
from shop.shared.models import AuditLine, Series


def given_out(series: str) -> int:
    """Return the last number of a series that was given out, 0 where none was."""
    following = Series.objects.filter(name=series).values_list("next_number", flat=True).first()
    return following - 1 if following else 0


def told(action: str, subject: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Yield the number of the subject and the facts of each audit line of an action; the chain names altered ones."""
    rows = AuditLine.objects.filter(action=action, subject__startswith=f"{subject} ").order_by("pk")
    for name, facts in rows.values_list("subject", "after").iterator(CHUNK):
        number = name.removeprefix(f"{subject} ")
        if number.isdigit() and isinstance(facts, dict):
            yield int(number), facts


def gaps(word: str, rows: QuerySet[Any, Any], series: str) -> Iterator[str]:
    """Yield the numbers that are missing among the rows, and the rows whose number was never given out."""
    last, expected = given_out(series), 1
    for pk, number in rows.order_by("number").values_list("pk", "number").iterator(CHUNK):
        if not 1 <= number <= last:
            yield f"{word} {pk} by its row bears number {number}; the numbers given out are 1 to {last}."
            continue
        if number > expected:
            yield _missing(word, expected, number - 1)
        expected = number + 1
    if expected <= last:
        yield _missing(word, expected, last)


def _missing(word: str, first: int, last: int) -> str:
    if first == last:
        return f"{word} {first} is missing: the number was given out and no row bears it."
    return f"{word} {first} to {last} are missing: the numbers were given out and no row bears them."

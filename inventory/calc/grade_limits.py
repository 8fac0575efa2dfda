"""What a document allows in a steel: element limits by grade, document and edition, in whole ppm of the mass."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Final

PPM_PER_PERCENT: Final = 10_000
MOST_PPM: Final = 1_000_000  # all of the mass
NOT_STATED: Final = "not stated"  # the edition, where a copy of a document does not show it

# Symbols as certificates print them. Source: IUPAC symbols; which ones stand on steel papers is common practice.
ELEMENTS: Final = tuple("C Mn P S Si Cr Ni Mo V W Cu Al N B Ti Nb Co Sn As Sb Pb Ca Bi Se Te Zr Ta Ce H O".split())
# A percentage as tables print it; Decimal alone would also read 1e900000 and take a minute over it.
_PERCENT: Final = re.compile(r"(?=\.?[0-9])[0-9]{0,3}(\.[0-9]{0,8})?", re.ASCII)


class Standing(StrEnum):
    """How far the limits of a row were seen in print."""

    SEEN = "as printed in the source"
    CARRIED = "partly carried over from another list"


@dataclass(frozen=True, slots=True)
class Limit:
    """What one element may be.

    Args:
        element: its symbol, one of ELEMENTS.
        least_ppm: ppm of the mass, 0 to 1 000 000; None where there is no least.
        most_ppm: ppm of the mass, 0 to 1 000 000; None where there is no most.

    Raises:
        ValueError: an unknown symbol, no limit at all, a limit out of range, or a least above the most.
    """

    element: str
    least_ppm: int | None
    most_ppm: int | None

    def __post_init__(self) -> None:
        if self.element not in ELEMENTS:
            raise ValueError(f"{self.element!r} is not the symbol of an element kept here")
        given = [ppm for ppm in (self.least_ppm, self.most_ppm) if ppm is not None]
        if not given or given != sorted(given):
            raise ValueError(f"{self.element}: a limit has a least, a most, or both in that order")
        if any(type(ppm) is not int or not 0 <= ppm <= MOST_PPM for ppm in given):
            raise ValueError(f"{self.element}: a limit is a whole number of ppm from 0 to {MOST_PPM}")


@dataclass(frozen=True, slots=True)
class GradeLimits:
    """The limits of one grade in one edition of one document, in the order of that table.

    Args:
        grade: the grade's designation, such as 4140.
        document: the standard or list, such as ASTM A29/A29M.
        edition: its edition as printed, such as 16 or NOV01; NOT_STATED where the copy does not show it.
        limits: one Limit per element, each element once.
        source: where the figures were seen.
        standing: whether all of them were seen there.
        note: what a reader of the limits should know.

    Raises:
        ValueError: no limits, an element twice, or an empty name.
    """

    grade: str
    document: str
    edition: str
    limits: tuple[Limit, ...]
    source: str
    standing: Standing = Standing.SEEN
    note: str = ""

    def __post_init__(self) -> None:
        elements = [limit.element for limit in self.limits]
        if not elements or len(set(elements)) != len(elements):
            raise ValueError(f"{self.grade}: every element stands once")
        if not all((self.grade, self.document, self.edition, self.source)):
            raise ValueError(f"{self.grade}: grade, document, edition and source are all named")

    def limit(self, element: str) -> Limit | None:
        """Return the limit of an element, or None where the document sets none."""
        return next((limit for limit in self.limits if limit.element == element), None)


def with_ordered(row: GradeLimits, ordered: Limit) -> GradeLimits:
    """Return the row with one limit as it was ordered: silicon of a carbon grade, carbon of a W1 by its suffix.

    Args:
        row: the limits of the document.
        ordered: the limit agreed with the supplier; it replaces the document's own or is added at the end.

    Returns:
        A new row; its note says what was ordered.

    Raises:
        ValueError: never for a valid row and limit.

    Source: none; shop practice (what was agreed on the order goes before the general table).
    """
    kept = tuple(ordered if limit.element == ordered.element else limit for limit in row.limits)
    limits = kept if row.limit(ordered.element) else (*kept, ordered)
    note = f"{row.note} {ordered.element} as ordered.".strip()
    return replace(row, limits=limits, note=note)


def find(limits: Sequence[GradeLimits], *, grade: str, document: str, edition: str) -> tuple[GradeLimits | None, str]:
    """Find the row of a grade in one edition of a document; capitals and spaces do not matter.

    Returns:
        The row and an empty text, or None and the sentence that says what is kept instead.

    Raises:
        ValueError: two rows of the same grade, document and edition.

    Source: none; shop practice (no edition stands in for another).
    """
    of_grade = [row for row in limits if same_name(row.grade, grade)]
    in_document = [row for row in of_grade if same_name(row.document, document)]
    matching = [row for row in in_document if same_name(row.edition, edition or NOT_STATED)]
    if len(matching) > 1:
        raise ValueError(f"{grade} stands twice in {document}, edition {edition}")
    if matching:
        return matching[0], ""
    if not of_grade:
        return None, f"No limits are kept for {grade}: enter them from the document, or read the paper by eye."
    if not in_document:
        kept = ", ".join(dict.fromkeys(row.document for row in of_grade))
        return None, f"No limits are kept for {grade} in {document or 'a document without a name'}; kept are {kept}."
    kept = ", ".join(row.edition for row in in_document)
    return None, f"No limits are kept for {grade} in {document}, edition {edition or NOT_STATED}; kept are: {kept}."


def limits(text: str) -> tuple[Limit, ...]:
    """Read a row as the tables print it: `C .43-.50 Mn .60-.90 P .040 S .050`; a single value is a most.

    Args:
        text: symbol and value in turn, values in percent of the mass, range as least-most.

    Returns:
        Limits in the order written.

    Raises:
        ValueError: not such a row, or a value finer than a ppm.

    Source: the notation is that of ASTM A29/A29M Table 1.
    """
    words = text.split()
    if len(words) % 2:
        raise ValueError(f"symbol and value in turn, not {text!r}")
    return tuple(_read(words[at], words[at + 1]) for at in range(0, len(words), 2))


def percent_text(element: str, ppm: int) -> str:
    """Print a limit as the tables do.

    Args:
        element: its symbol; phosphorus and sulphur have three places, the others two.
        ppm: ppm of the mass, 0 to 1 000 000.

    Returns:
        Percent of the mass with a nought before the point and as many places as the value needs.

    Raises:
        ValueError: never for a whole number.

    Source: the places are those of ASTM A29/A29M Table 1.
    """
    places = 3 if element in ("P", "S") else 2
    while ppm * 10**places % PPM_PER_PERCENT:
        places += 1
    return f"{Decimal(ppm) / PPM_PER_PERCENT:.{places}f}"


def _read(element: str, value: str) -> Limit:
    """Read one range or most."""
    figures = list(_ppm(value))
    return Limit(element, figures[0] if len(figures) == 2 else None, figures[-1])


def _ppm(value: str) -> Iterator[int]:
    """Read percents as whole ppm."""
    for figure in value.split("-", 1):
        if not _PERCENT.fullmatch(figure):
            raise ValueError(f"{figure[:24]} is no percentage")
        ppm = Decimal(figure) * PPM_PER_PERCENT
        if ppm != int(ppm):
            raise ValueError(f"{figure} % is finer than a ppm")
        yield int(ppm)


def same_name(one: str, other: str) -> bool:
    """Compare two names without their capitals and spaces."""
    return "".join(one.split()).casefold() == "".join(other.split()).casefold()

"""A mill certificate against the limits of the document and edition it names: heat analysis, without any tolerance."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from inventory.calc.certificate_values import Bound, Figure, Unread, read, symbol
from inventory.calc.grade_limits import PPM_PER_PERCENT, GradeLimits, Limit, find, percent_text


class CertificateType(StrEnum):
    """What kind of paper it is. Source: EN 10204:2004 as summarised; the independence of the signer is from memory."""

    NOT_SAID = "not stated"
    DECLARATION = "2.1"
    REPORT = "2.2"
    MILL = "3.1"
    WITNESSED = "3.2"

    @property
    def words(self) -> str:
        """What the type means."""
        return _TYPE_WORDS[self]


_TYPE_WORDS: Final = {
    CertificateType.NOT_SAID: "no EN 10204 type on the paper",
    CertificateType.DECLARATION: "maker's word that the goods are as ordered, no results",
    CertificateType.REPORT: "maker's results, but not of these very goods",
    CertificateType.MILL: "results of these goods, signed by the maker's inspector, who is independent of production",
    CertificateType.WITNESSED: "results of these goods, signed by the maker's and by an independent inspector",
}


class Finding(StrEnum):
    """What a certificate says of one element."""

    PASS = "pass"  # noqa: S105 - a word, not a password
    FAIL = "fail"
    NOT_REPORTED = "not reported"
    UNCLEAR = "cannot be judged"
    NOT_OF_GRADE = "not of this grade"


class Verdict(StrEnum):
    """What a certificate comes to, the worst first."""

    NO_LIMITS = "no limits for this document and edition"
    FAIL = "outside the limits"
    UNCLEAR = "a figure cannot be judged"
    INCOMPLETE = "something is not reported"
    PASS = "within the limits"  # noqa: S105 - a word, not a password


@dataclass(frozen=True, slots=True)
class ElementResult:
    """One line of the check.

    `off_percent` is by how much the limit is missed, percent of the mass, above it positive, below it negative; None
    unless the element fails. `why` says in a sentence what is wrong, empty where nothing is.
    """

    element: str
    printed: str
    finding: Finding
    limit: Limit | None = None
    off_percent: Decimal | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class CertificateCheck:
    """The grade's own elements in the table's order, then what else the paper reports, in the paper's order."""

    grade: str
    document: str
    edition: str
    row: GradeLimits | None
    elements: tuple[ElementResult, ...]
    others: tuple[ElementResult, ...]
    why: str = ""

    @property
    def verdict(self) -> Verdict:
        """What it comes to; a missing element is never a pass."""
        if self.row is None:
            return Verdict.NO_LIMITS
        found = {line.finding for line in self.elements}
        order = (
            (Finding.FAIL, Verdict.FAIL),
            (Finding.UNCLEAR, Verdict.UNCLEAR),
            (Finding.NOT_REPORTED, Verdict.INCOMPLETE),
        )
        return next((verdict for finding, verdict in order if finding in found), Verdict.PASS)


def check(
    values: Mapping[str, str], limits: Sequence[GradeLimits], *, grade: str, document: str, edition: str
) -> CertificateCheck:
    """Compare a certificate's heat analysis with the limits of the document and edition it names.

    Args:
        values: what the paper prints, text by element symbol or name; percent of the mass unless it says ppm.
        limits: the rows the shop keeps, any grades.
        grade: the grade the steel was bought as.
        document: the document on the certificate or order.
        edition: its edition; empty means that the paper does not state it, which only fits a row that says so too.

    Returns:
        Pass, fail with by how much, not reported, or cannot be judged for each of the grade's elements. Figures are
        compared exactly and never rounded. Another document or edition is never used in place of the one named.

    Raises:
        ValueError: two rows of the same grade, document and edition.

    Source:
        ASTM A29/A29M-11 4.2 to 4.3 as copied: bars are judged by the heat analysis of the mill; the tolerances of
        product analysis are for a purchaser's own analysis.
    """
    row, why = find(limits, grade=grade, document=document, edition=edition)
    texts, others = _by_element(values)
    elements = tuple(_own(limit, texts.get(limit.element, [])) for limit in row.limits) if row else ()
    own = {limit.element for limit in row.limits} if row else set()
    beyond = [
        ElementResult(element, printed, Finding.NOT_OF_GRADE if row else Finding.UNCLEAR)
        for element, found in texts.items()
        if element not in own
        for printed in found
    ]
    return CertificateCheck(grade, document, edition, row, elements, (*beyond, *others), why)


def _by_element(values: Mapping[str, str]) -> tuple[dict[str, list[str]], list[ElementResult]]:
    """Sort the texts by element; names that are no element are lines of their own."""
    texts: dict[str, list[str]] = {}
    unknown = []
    for name, printed in values.items():
        element = symbol(name)
        if element is None:
            why = f"“{name.strip()[:24]}” is not an element kept here: write its symbol, such as Mn."
            unknown.append(ElementResult(name, printed, Finding.UNCLEAR, why=why))
        else:
            texts.setdefault(element, []).append(printed)
    return texts, unknown


def _own(limit: Limit, texts: list[str]) -> ElementResult:
    """Judge one of the grade's own elements."""
    element, printed = limit.element, " / ".join(texts)
    figures = [figure for figure in (read(element, text) for text in texts) if figure is not None]
    unread = next((figure for figure in figures if isinstance(figure, Unread)), None)
    if unread is not None:
        return ElementResult(element, printed, Finding.UNCLEAR, limit, why=unread.why)
    different = list(dict.fromkeys(figure for figure in figures if isinstance(figure, Figure)))
    if not different:
        return ElementResult(element, printed, Finding.NOT_REPORTED, limit)
    if len(different) > 1:
        why = f"{element} is given twice with different figures: keep the one of the heat analysis."
        return ElementResult(element, printed, Finding.UNCLEAR, limit, why=why)
    return _judge(limit, printed, different[0])


def _judge(limit: Limit, printed: str, figure: Figure) -> ElementResult:
    """Compare a figure with its limit."""
    element, percent = limit.element, figure.percent
    least, most = _percent(limit.least_ppm), _percent(limit.most_ppm)
    if figure.bound is Bound.EXACT:
        if most is not None and percent > most:
            return _fail(limit, printed, percent - most)
        if least is not None and percent < least:
            return _fail(limit, printed, percent - least)
        return ElementResult(element, printed, Finding.PASS, limit)
    if least is not None and (percent < least or (percent == least and figure.bound is Bound.BELOW)):
        return _fail(limit, printed, percent - least)
    if least is None and most is not None and percent <= most:
        return ElementResult(element, printed, Finding.PASS, limit)
    why = f"{element} “{printed.strip()}” may be inside the limit or outside it: ask the mill for the figure."
    return ElementResult(element, printed, Finding.UNCLEAR, limit, why=why)


def _fail(limit: Limit, printed: str, off: Decimal) -> ElementResult:
    """Say by how much a limit is missed."""
    element, over = limit.element, off > 0
    ppm = limit.most_ppm if over else limit.least_ppm
    bound = percent_text(element, ppm or 0)
    if off == 0:
        why = f"{element} “{printed.strip()}” is below the least, {bound} %."
    else:
        side = "above the most" if over else "below the least"
        why = f"{element} “{printed.strip()}” is {abs(off).normalize():f} % {side}, {bound} %."
    return ElementResult(element, printed, Finding.FAIL, limit, off, why)


def _percent(ppm: int | None) -> Decimal | None:
    """Turn whole ppm into exact percent."""
    return None if ppm is None else Decimal(ppm) / PPM_PER_PERCENT

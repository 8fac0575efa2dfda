"""What the checks say of a delivery line: weight, sizes, certificate, order; each an answer in words and a text to claim."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc import certificates as certificate_calc
from inventory.calc import delivery_check, tolerances
from inventory.calc.against_order import (
    Difference,
    DifferenceKind,
    Measure,
    OrderedSteel,
    ReceivedSteel,
    compare_with_order,
)
from inventory.calc.certificates import CertificateCheck, ElementResult
from inventory.calc.certificates import Finding as ElementFinding
from inventory.calc.delivery_check import Weighing, WeightFinding
from inventory.calc.grade_limits import NOT_STATED
from inventory.calc.steel import MOST_SIZE_NM, Section, Shape
from inventory.calc.tolerances import SizeCheck, SizeFinding, System
from inventory.models import Bar, Certificate, Claim, DeliveryLine, Melt, PurchaseOrderLine
from inventory.models import Section as SectionRow
from inventory.queries import grade_book
from shop.shared import shop_row
from shop.shared.units import NM_PER_SIXTY_FOURTH, both, mass_kg, mass_lb, money

About = Claim.About


@dataclass(frozen=True, slots=True)
class Found:
    """One answer: what it is about, whether it is good (None: nothing to say yet), and in words."""

    about: str
    good: bool | None
    words: str
    claim: str = ""


def section_of(row: SectionRow) -> Section:
    """Return a section as the calculations want it."""
    return Section(Shape(row.shape), row.size_nm, row.width_nm)


def system_of(row: SectionRow) -> System:
    """Return the system a section was ordered in: inches where its size is whole sixty-fourths."""
    return System.INCH if row.size_nm % NM_PER_SIXTY_FOURTH == 0 else System.METRIC


def of_line(line: DeliveryLine, bars: Sequence[Bar]) -> list[Found]:
    """Return all answers about a line of steel."""
    if not bars or line.item.section is None:
        return []
    found = [*_order(line), _weight(line, bars), _sizes(bars), *_papers(line)]
    return [one for one in found if one is not None]


def _weight(line: DeliveryLine, bars: Sequence[Bar]) -> Found | None:
    section, grade = line.item.section, line.item.grade
    if section is None or grade is None:
        return None
    if line.scale_mass_mg is None:
        return Found(About.WEIGHT, None, "Not weighed.")
    if not all(bar.measured for bar in bars):
        return Found(About.WEIGHT, None, "Weighed; the check waits for the tape.")
    shop = shop_row.the_shop()
    weighing = Weighing(
        length_nm=sum(bar.length_nm for bar in bars),
        n_bars=len(bars),
        scale_mass_mg=line.scale_mass_mg,
        scale_division_mg=shop.scale_step_mg,
        tape_error_nm=shop.tape_error_nm,
    )
    gate = delivery_check.weight_gate(
        section_of(section), weighing, density_ug_per_cm3=grade.density_ug_per_cm3, system=system_of(section)
    )
    scale = f"{mass_lb(gate.scale_mg)} ({mass_kg(gate.scale_mg)}) by {line.weighed_by or 'the scale'}"
    if gate.finding is WeightFinding.NO_LIMIT or gate.low_mg is None or gate.high_mg is None:
        worked = f"{mass_lb(gate.computed_mg)} ({mass_kg(gate.computed_mg)}) worked out"
        return Found(About.WEIGHT, None, f"{scale}; {worked}. No size limit is kept for this section.")
    good = f"good bars weigh {mass_lb(gate.low_mg)} to {mass_lb(gate.high_mg)}"
    if gate.finding is WeightFinding.INSIDE:
        blind = "" if gate.shows_missing_bar else " One bar less would not show in this weight; count them."
        return Found(About.WEIGHT, True, f"{scale}; {good}.{blind}")
    side = "lighter" if gate.finding is WeightFinding.UNDER else "heavier"
    words = f"{scale}: {side} than good bars of this size can be; {good}. Look at the count, the size and the grade."
    return Found(About.WEIGHT, False, words, f"{len(bars)} bars of {line.item.name}: {scale}, where {good}.")


def size_of(bar: Bar) -> SizeCheck | None:
    """Return two sizes of a bar against the table; nothing where they were not measured."""
    if bar.first_nm is None or bar.second_nm is None or max(bar.first_nm, bar.second_nm) > MOST_SIZE_NM:
        return None
    return tolerances.check(section_of(bar.section), system_of(bar.section), bar.first_nm, bar.second_nm)


def _sizes(bars: Sequence[Bar]) -> Found:
    checks = [(bar, size_of(bar)) for bar in bars]
    measured = [(bar, check) for bar, check in checks if check is not None]
    missing = len(bars) - len(measured)
    if not measured:
        return Found(About.SIZE, None, "No sizes measured; two on every bar show a bar of another size.")
    wrong = [(bar, check) for bar, check in measured if not check.ok and check.finding is not SizeFinding.NO_LIMIT]
    more = f" {missing} of {len(bars)} bars have no sizes yet." if missing else ""
    if wrong:
        said = "; ".join(f"Bar {bar.number} {_size_words(bar, check)}" for bar, check in wrong)
        claim = f"{len(wrong)} of {len(bars)} bars of {bars[0].lot.item.name} are out of size: {said}."
        return Found(About.SIZE, False, f"{said}.{more}", claim)
    if measured[0][1].allowed is None:
        return Found(About.SIZE, None, f"Measured; no size limit is kept for this section.{more}")
    allowed = measured[0][1].allowed
    metric = system_of(bars[0].section) is System.METRIC
    least, most = (both(nm, metric_first=metric) for nm in (allowed.least_nm, allowed.most_nm))
    table = f"{least} to {most} by {allowed.document}"
    return Found(About.SIZE, None if missing else True, f"{len(measured)} within the size tolerance, {table}.{more}")


def _size_words(bar: Bar, check: SizeCheck) -> str:
    metric, said = system_of(bar.section) is System.METRIC, []
    if check.over_nm:
        said.append(f"{both(check.over_nm, metric_first=metric)} over the size")
    if check.under_nm:
        said.append(f"{both(check.under_nm, metric_first=metric)} under the size")
    if check.out_of_round_over_nm:
        shape = "round" if bar.section.shape == "round" else "square"
        said.append(f"{both(check.out_of_round_over_nm, metric_first=metric)} too far out of {shape}")
    return f"({bar.sizes_typed}) is {' and '.join(said)}"


def _papers(line: DeliveryLine) -> list[Found]:
    melt = line.melt
    if melt is None:
        return []
    if not melt.known:
        return [Found(About.HEAT, False, "Mill heat unknown.", f"{line.item.name} came without a mill heat number.")]
    papers = [*Certificate.objects.filter(melt=melt, withdrawn_at=None).order_by("-id")[:1]]
    if not papers:
        words = "Certificate awaited." if melt.certificate_awaited else "No certificate."
        claim = f"The certificate of mill heat {melt.heat_number} has not come." if melt.certificate_awaited else ""
        return [Found(About.CERTIFICATE, None, words, claim)]
    return [paper_found(papers[0], melt)]


def paper_found(paper: Certificate, melt: Melt) -> Found:
    """Return what a certificate comes to, in words."""
    Finding = Certificate.Finding  # noqa: N806 - the table's word
    named = f"Certificate {paper.number}" if paper.number else "Certificate"
    if paper.finding == Finding.BY_EYE:
        return Found(About.CERTIFICATE, True, f"{named}: read and within limits, {paper.read_by}.")
    if paper.finding == Finding.NOT_READ:
        return Found(About.CERTIFICATE, None, f"{named} is here and not read yet.")
    check = check_of(paper, melt)
    against = f"{paper.document}, edition {paper.edition or NOT_STATED}" if paper.document else "its document"
    if paper.finding == Finding.PASS:
        return Found(About.CERTIFICATE, True, f"{named}: within the limits of {against}.")
    wrong = [one.why or f"{one.element} is not reported" for one in troubled(check)] if check else []
    said = " ".join(_sentence(one) for one in wrong) or (check.why if check else "")
    if paper.finding == Finding.FAIL:
        claim = f"Mill heat {melt.heat_number} is outside the limits of {against}: {said}"
        return Found(About.CERTIFICATE, False, f"{named}: outside the limits. {said}", claim)
    return Found(About.CERTIFICATE, None, f"{named}: {paper.finding}. {said}".strip())


def check_of(paper: Certificate, melt: Melt) -> CertificateCheck | None:
    """Return the figures of a certificate against the grade book as it stands; nothing where it has none."""
    if not paper.figures:
        return None
    return certificate_calc.check(
        paper.figures,
        grade_book.limits_of(melt.grade, as_ordered=paper.as_ordered),
        grade=melt.grade.code,
        document=paper.document,
        edition=paper.edition,
    )


def troubled(check: CertificateCheck) -> list[ElementResult]:
    """Return the elements that are no pass, the failed first."""
    order = (ElementFinding.FAIL, ElementFinding.UNCLEAR, ElementFinding.NOT_REPORTED)
    return [one for finding in order for one in check.elements if one.finding is finding]


def _sentence(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def _order(line: DeliveryLine) -> list[Found]:
    """Compare all that came for the order's line so far with it: count, length and price."""
    ordered = line.order_line
    if ordered is None or line.item.section is None or line.item.grade is None:
        return []
    section, code = section_of(line.item.section), line.item.grade.code
    lines = DeliveryLine.objects.filter(order_line=ordered).exclude(delivery__state="reversed")
    came = [ReceivedSteel(code, section, one.bars or 0, one.qty) for one in lines]
    priced = [one.cost_minor for one in lines if one.cost_minor is not None]
    by_count = ordered.bars is not None  # bars of random length are counted; their length is only taped
    asked = OrderedSteel(
        code,
        section,
        ordered.bars,
        None if by_count else ordered.qty,
        price_minor=ordered.price_minor,
        priced_by=Measure.BARS if by_count else Measure.LENGTH,
    )
    invoiced = sum(priced) if len(priced) == len(came) and ordered.price_minor else None
    found = [_difference(one, ordered) for one in compare_with_order(asked, came, invoiced_minor=invoiced)]
    return found or [Found(About.SHORT, True, "As ordered.")]


def _difference(one: Difference, ordered: PurchaseOrderLine) -> Found:
    name = ordered.item.name
    if one.kind is DifferenceKind.PRICE:
        zeros = shop_row.the_shop().currency
        was, asked = money(one.ordered or 0, zeros), money(one.received or 0, zeros)
        return Found(About.PRICE, False, f"{asked} asked where the order says {was}.", f"{name}: {asked}, not {was}.")
    about = About.SHORT if one.kind is DifferenceKind.SHORT else About.OVER
    if one.measure is Measure.BARS:
        words = f"{one.ordered} bars of {name} ordered, {one.received} came."
    else:
        words = f"{both(one.ordered or 0)} of {name} ordered, {both(one.received or 0)} came."
    return Found(about, False, words, words)

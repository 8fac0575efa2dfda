"""What a page says of an answer to a cut plan: how good it is, what it lacks, and how two answers differ."""

from collections.abc import Mapping, Sequence
from typing import Any

from inventory.calc.cut_problem import Level, Order
from inventory.models import CutPlan, CutPlanLine
from inventory.queries import cut_question
from shop.shared import units
from shop.shared.units import as_taped, mass_kg, mass_lb
from shop.staff.ruled import Column, Ruled
from shop.staff.wording import figures

Answer = Mapping[str, Any]

ONE_PRICE = "Least loss, as this shop counts scrap, remnants, bars sawn and bars opened"
STRICT = "Fewest full bars opened, then least scrap, then fewest remnants"


def title(answer: Answer) -> str:
    """Name an answer by what it puts first."""
    return STRICT if answer["order"] == Order.STRICT.value else ONE_PRICE


def proof(answer: Answer) -> str:
    """Say whether a better plan can exist, and how much better it could be at most."""
    short = [row for row in answer["standings"] if row["level"] == Level.SHORT.value]
    if not all(row["proven"] for row in short):
        return "Whether more blanks could be cut is not proven."
    first = Level.SCRAP if answer["order"] == Order.STRICT.value else Level.LOSS
    fixed = [Level.COST, Level.FULL] if first is Level.SCRAP else [Level.COST]
    if not all(cut_question.gap(answer, level)[2] for level in fixed):
        return "The best found in the time; whether a better one exists is not proven."
    value, bound, proven = cut_question.gap(answer, first)
    if proven:
        what = "throws less steel away" if first is Level.SCRAP else "loses less steel, as this shop counts it"
        return f"No plan {what}: proven, not guessed."
    if bound is None:
        return "The best found in the time; whether a better one exists is not proven."
    return f"The best found in the time; no plan can save more than another {as_taped(value - bound)} of bar."


def missing(plan: CutPlan, answer: Answer, lines: Sequence[CutPlanLine]) -> list[str]:
    """Say of each line what no bar gives, and what would help."""
    said = []
    for line, count in zip(lines, answer["missing"], strict=True):
        if count:
            length = count * (line.piece_nm + plan.kerf_nm)
            due = f", for {line.words}" if line.words else ""
            heat = " of one mill heat" if plan.one_heat else ""
            said.append(
                f"{figures(count)} × {line.blank.name} cannot be cut{due}: the bars on the rack{heat} do not reach. "
                f"About {as_taped(length)} of bar more is needed; put lengths to buy into the question, or order steel."
            )
    return said


def to_buy(answer: Answer, plan: CutPlan, currency: str) -> list[str]:
    """Say which bars of an answer are to be bought, and what they cost together."""
    counts: dict[int, int] = {}
    for row in answer["bars"]:
        if row["bought"]:
            counts[row["length_nm"]] = counts.get(row["length_nm"], 0) + 1
    prices = {one["nm"]: one["price_minor"] for one in plan.buyable}
    return [
        f"{count} × {as_taped(nm)}, {units.money(count * prices[nm], currency)} together"
        for nm, count in counts.items()
    ]


def compared(plan: CutPlan, answers: Sequence[Answer], mg_per_metre: int) -> Ruled:
    """Set answers side by side: bars, thrown, remnants, the longest of them."""
    columns = [Column("what"), *(Column(f"plan {number}", figures=True) for number in range(1, len(answers) + 1))]
    rows = [
        ["bars sawn", *(figures(len(one["bars"])) for one in answers)],
        ["full bars opened", *(figures(sum(row["full"] for row in one["bars"])) for one in answers)],
        ["thrown", *(_thrown(one, mg_per_metre) for one in answers)],
        ["remnants", *(figures(len(_kept(one))) for one in answers)],
        ["longest of them", *(as_taped(max(_kept(one))) if _kept(one) else "none" for one in answers)],
        ["blanks missing", *(figures(sum(one["missing"])) for one in answers)],
    ]
    return Ruled(f"Cut plan {plan.number}, side by side", columns, rows)


def _kept(answer: Answer) -> list[int]:
    return [row["left_nm"] for row in answer["bars"] if row["kept"]]


def _thrown(answer: Answer, mg_per_metre: int) -> str:
    nm = cut_question.thrown_nm(answer)
    mg = nm * mg_per_metre // 10**9
    return f"{as_taped(nm)}, {mass_lb(mg)} ({mass_kg(mg)})" if nm else "nothing"

"""All bars of a plan against the rack, the demand, the locks and the mill heats."""

from collections import Counter
from collections.abc import Iterator, Sequence

from inventory.calc.cut_problem import Buyable, CutBar, Plan, Problem, Stock
from inventory.calc.cut_verifier.saw import Sawn, differences, replay


def replay_all(problem: Problem, plan: Plan) -> tuple[list[Sawn], list[str]]:
    """Cut every bar of a plan and count what comes of it.

    Args:
        problem: the question.
        plan: the answer.

    Returns:
        The bars that could be cut, and one sentence a fault. There are fewer bars than in the plan where one of them
        cannot be read or cut.
    """
    sawn: list[Sawn] = []
    faults: list[str] = []
    for stated in plan.bars:
        result = _one(problem, stated)
        if isinstance(result, str):
            faults.append(result)
        else:
            sawn.append(result)
            faults += differences(stated, result)
    faults += _used_too_often(problem, plan)
    faults += _counts(problem, plan)
    faults += _locks(problem, plan)
    if problem.one_heat:
        faults += _heats(problem, sawn)
    return sawn, faults


def _one(problem: Problem, stated: CutBar) -> Sawn | str:
    bars: Sequence[Stock | Buyable] = problem.buyable if stated.bought else problem.stock
    bar = next((bar for bar in bars if bar.name == stated.source), None)
    if bar is None:
        return f"Bar {stated.source!r} is not {'among those to buy' if stated.bought else 'on the rack'}."
    if not stated.pieces:
        return f"Bar {stated.source!r} stands in the plan without a piece; such a bar is not touched."
    for index in stated.pieces:
        if not 0 <= index < len(problem.pieces):
            return f"Bar {stated.source!r} has a piece of line {index}, and the demand has no such line."
    return replay(problem, bar, stated.pieces)


def _used_too_often(problem: Problem, plan: Plan) -> Iterator[str]:
    used = Counter((bar.bought, bar.source) for bar in plan.bars)
    for stock in problem.stock:
        if used[False, stock.name] > 1:
            yield f"Bar {stock.name!r} is cut {used[False, stock.name]} times and is there once."
    for length in problem.buyable:
        if length.most is not None and used[True, length.name] > length.most:
            yield f"Bar {length.name!r} is bought {used[True, length.name]} times; {length.most} can be had."


def _counts(problem: Problem, plan: Plan) -> Iterator[str]:
    cut = Counter(index for bar in plan.bars for index in bar.pieces)
    if len(plan.missing) != len(problem.pieces):
        yield f"Missing pieces are given for {len(plan.missing)} lines, the demand has {len(problem.pieces)}."
    for index, piece in enumerate(problem.pieces):
        if cut[index] > piece.count:
            yield f"Line {index}: {cut[index]} pieces are cut and {piece.count} are asked for."
        elif index < len(plan.missing) and plan.missing[index] != piece.count - cut[index]:
            stated, real = plan.missing[index], piece.count - cut[index]
            yield f"Line {index}: {stated} pieces are stated as missing, {real} are."


def _locks(problem: Problem, plan: Plan) -> Iterator[str]:
    planned = {bar.source: bar.pieces for bar in plan.bars if not bar.bought}
    for lock in problem.locked:
        if planned.get(lock.stock, ()) != lock.pieces:
            settled = ", ".join(map(str, lock.pieces)) or "nothing"
            yield f"Bar {lock.stock!r} is settled (lines {settled} in this order), the plan cuts it otherwise."


def _heats(problem: Problem, sawn: Sequence[Sawn]) -> Iterator[str]:
    """Name runs cut from more mill heats than the locks already make them."""
    locked = {lock.stock for lock in problem.locked}
    heats: dict[str | int, set[tuple[bool, str]]] = {}
    settled: dict[str | int, set[tuple[bool, str]]] = {}
    for bar in sawn:
        for index in bar.pieces:
            run = problem.pieces[index].run or index
            heats.setdefault(run, set()).add(bar.heat)
            if bar.bar.name in locked:
                settled.setdefault(run, set()).add(bar.heat)
    for run, found in heats.items():
        if len(found) > max(1, len(settled.get(run, ()))):
            name = f"run {run!r}" if isinstance(run, str) else f"line {run}"
            texts = ", ".join(sorted("of bought bars" if bought else repr(heat) for bought, heat in found))
            yield f"The pieces of {name} come from {len(found)} mill heats: {texts}."

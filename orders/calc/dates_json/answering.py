"""Asks the calculator the questions of a document and writes the answers as plain values for JSON."""

import datetime as dt
from typing import Any, Final

import numpy as np

from orders.calc.dates import MODEL, asking
from orders.calc.dates import ideas as bringing_forward
from orders.calc.dates.answers import Curve
from orders.calc.dates.asking import Answer, Outcome, Rated
from orders.calc.dates.ideas import ideas
from orders.calc.dates_json import week
from orders.calc.dates_json.loading import Refused
from orders.calc.dates_json.questions import Question
from orders.calc.dates_json.reading import Asked

CURVE_ENDS: Final = 0.999  # design of the calculator: the last day of a curve is the first that is as sure as this
HALF: Final = 0.5


def answered(asked: Asked) -> dict[str, Any]:
    """Answer a document.

    Args:
        asked: as read.

    Returns:
        Its name, what an answer needs to be had again (model, seed, futures, digest), and an answer for each question.
    """
    answering = _Answering(asked)
    return {
        "name": asked.name,
        "model": version(),
        "digest": asked.digest,
        "seed": asked.seed,
        "futures": asked.futures,
        "answers": [_one(answering, one, raw) for one, raw in zip(asked.questions, asked.raw, strict=True)],
    }


def version() -> str:
    """Name the model and the library whose random numbers it draws: the same of both gives the same answer."""
    return f"{MODEL}, NumPy {np.__version__}"


def _one(answering: "_Answering", one: Question | Refused, raw: Any) -> dict[str, Any]:
    if isinstance(one, Refused):
        ask = raw.get("ask") if isinstance(raw, dict) else None
        return {"ask": ask if isinstance(ask, str) else None, "error": str(one)}
    said: dict[str, Any] = getattr(answering, one.ask)(one)
    return {"ask": one.ask, **said}


def _share(share: float) -> float:
    """Give a share of futures without the dust of a subtraction."""
    return round(share, 9)


class _Answering:
    """One document; what several questions need is worked out once."""

    def __init__(self, asked: Asked) -> None:
        self.shop, self.seed, self.futures = asked.shop, asked.seed, asked.futures
        self.first = asked.shop.hours.first_day
        self._asked: dict[tuple[Any, ...], Answer] = {}
        self._rated: tuple[Outcome, tuple[Rated, ...]] | None = None

    def _answer(self, one: Question) -> Answer:
        key = (one.order, one.lines, one.sure, one.keep)
        if key not in self._asked:
            found = asking.ask(
                self.shop, one.wanted, sure=one.sure, seed=self.seed, futures=self.futures, keep=one.keep
            )
            self._asked = {key: found}
        return self._asked[key]

    @property
    def rated(self) -> tuple[Outcome, tuple[Rated, ...]]:
        """The shop as it stands."""
        if self._rated is None:
            self._rated = asking.rate(self.shop, seed=self.seed, futures=self.futures)
        return self._rated

    def _date(self, day: int | None) -> str | None:
        return None if day is None else (self.first + dt.timedelta(days=day)).isoformat()

    def when(self, one: Question) -> dict[str, Any]:
        """Answer when an order can be sent."""
        found = self._answer(one)
        items = {item for item, _ in one.lines}
        return {
            "order": one.order,
            "sure": one.sure,
            "day": self._date(found.curve.day(one.sure)),
            "half": self._date(found.curve.day(HALF)),
            "curve": self._curve(found.curve),
            "never": _share(found.curve.never),
            "holds": [{"what": hold.what, "share": hold.share, "days": round(hold.days, 3)} for hold in found.holds],
            "stuck": week.stuck(found.shop, found.outcome.plan, items),
            "replanned": found.replanned,
            "promises": [self._promise(rated, both=True) for rated in found.promises],
            "losers": [rated.order for rated in found.losers],
        }

    def how_sure(self, one: Question) -> dict[str, Any]:
        """Answer how sure an order goes by a day."""
        curve = self._answer(one).curve if one.lines else self.rated[0].curve(one.order, self.shop.horizon_days)
        return {
            "order": one.order,
            "by": self._date(one.by),
            "chance": curve.sure(one.by),
            "never": _share(curve.never),
        }

    def how_many(self, one: Question) -> dict[str, Any]:
        """Answer how many pieces go by a day."""
        (line,) = one.wanted
        parts = asking.split(
            self.shop, line, day=one.by, sure=one.sure, seed=self.seed, futures=self.futures, keep=one.keep
        )
        by = sum(part.pieces for part in parts if part.day is not None and part.day <= one.by)
        return {
            "order": one.order,
            "by": self._date(one.by),
            "sure": one.sure,
            "pieces": by,
            "split": [{"pieces": part.pieces, "day": self._date(part.day)} for part in parts],
        }

    def promises(self, _one: Question) -> dict[str, Any]:
        """Answer how sure each promised day is."""
        return {"promises": [self._promise(rated, both=False) for rated in self.rated[1]]}

    def week(self, one: Question) -> dict[str, Any]:
        """Write the week as it is proposed."""
        return week.written(self.shop, self.rated[0].plan, one.days)

    def ideas(self, one: Question) -> dict[str, Any]:
        """Answer what would bring an order forward."""
        futures = min(self.futures, bringing_forward.FUTURES)
        found = ideas(self.shop, one.wanted, sure=one.sure, seed=self.seed, futures=futures, keep=one.keep)
        said = [
            {"what": idea.what, "day": self._date(idea.day), "gain": idea.gain, "losers": list(idea.losers)}
            for idea in found
        ]
        return {"order": one.order, "sure": one.sure, "futures": futures, "ideas": said}

    def _curve(self, curve: Curve) -> list[dict[str, Any]]:
        found, before = [], 0
        for day, count in enumerate(curve.counts):
            if count > before:
                found.append({"day": self._date(day), "chance": count / curve.futures})
            before = count
            if count >= CURVE_ENDS * curve.futures:
                break
        return found

    def _promise(self, rated: Rated, *, both: bool) -> dict[str, Any]:
        said: dict[str, Any] = {"order": rated.order, "day": self._date(rated.day)}
        return {**said, "before": rated.before, "after": rated.after} if both else {**said, "chance": rated.after}

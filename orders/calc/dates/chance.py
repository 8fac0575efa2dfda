"""Laws by which the minutes of a step vary from run to run: factors to its minutes, drawn future by future."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
KINDS: Final = ("lognormal", "gamma", "normal", "triangular", "pert", "counted")


@dataclass(frozen=True, slots=True)
class Law:
    """A law and its numbers.

    lognormal: log spread; mean 1. gamma: shape; mean 1 (shape 1 is exponential). normal: spread; mean 1, never under 0.
    triangular, pert: least, likeliest, most. counted: factors that were counted, each as likely.
    """

    kind: str
    numbers: tuple[float, ...]

    def __post_init__(self) -> None:
        wanted = {"lognormal": 1, "gamma": 1, "normal": 1, "triangular": 3, "pert": 3}.get(self.kind, len(self.numbers))
        if self.kind not in KINDS:
            raise ValueError(f"the law is one of {', '.join(KINDS)}")
        if not self.numbers or len(self.numbers) != wanted or min(self.numbers) < 0:
            raise ValueError(f"a {self.kind} law has {wanted or 'some'} numbers, none below nothing")
        if self.kind == "gamma" and not self.numbers[0]:
            raise ValueError("the shape of a gamma law is above 0")
        if wanted == 3 and not self.numbers[0] <= self.numbers[1] <= self.numbers[2] > self.numbers[0]:
            raise ValueError(f"a {self.kind} law has its least, likeliest and most in this order")

    @property
    def mean(self) -> float:
        """The mean factor; of the normal law the one it has before it is cut off at 0.

        Source: of PERT, Malcolm et al. 1959, from memory; the others are the mean of their numbers or 1 by definition.
        """
        if self.kind in ("lognormal", "gamma", "normal"):
            return 1.0
        if self.kind == "pert":
            least, likeliest, most = self.numbers
            return (least + 4 * likeliest + most) / 6
        return sum(self.numbers) / len(self.numbers)

    def draw(self, rng: np.random.Generator, count: int) -> Floats:
        """Draw factors.

        Args:
            rng: the stream.
            count: how many.

        Returns:
            Numbers of 0 or more.

        Source: NumPy's generators; PERT as 1 + 4 and 4 + 1 quarters of a Beta (Malcolm et al. 1959, from memory).
        """
        one = self.numbers[0]
        if self.kind == "lognormal":
            return np.exp(one * rng.standard_normal(count) - one * one / 2)
        if self.kind == "gamma":
            return rng.standard_gamma(one, count) / one
        if self.kind == "normal":
            return np.maximum(0.0, 1 + one * rng.standard_normal(count))
        if self.kind == "counted":
            return np.array(self.numbers)[(rng.random(count) * len(self.numbers)).astype(np.int64)]
        least, likeliest, most = self.numbers
        if self.kind == "triangular":
            return rng.triangular(least, likeliest, most, count)
        a = 1 + 4 * (likeliest - least) / (most - least)
        return least + (most - least) * rng.beta(a, 6 - a, count)

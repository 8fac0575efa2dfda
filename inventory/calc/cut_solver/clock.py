"""Time left, counted on the processor's own counter and never on the wall's clock."""

import time
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Clock:
    """A deadline, seconds of `time.perf_counter`."""

    end: float

    def left(self) -> float:
        """Give the seconds left; 0 when time is up."""
        return max(0.0, self.end - time.perf_counter())

    def up(self) -> bool:
        """Say whether time is up."""
        return time.perf_counter() >= self.end

    def part(self, share: float) -> "Clock":
        """Give a clock for a share, 0 to 1, of the time left."""
        return Clock(time.perf_counter() + share * self.left())

    def within(self, seconds: float) -> "Clock":
        """Give a clock that ends with this one, or sooner: after so many seconds."""
        return Clock(min(self.end, time.perf_counter() + seconds))

"""What the verifier says of a plan."""

from dataclasses import dataclass

from inventory.calc.cut_problem import Level


@dataclass(frozen=True, slots=True)
class Figure:
    """One level, worked out anew.

    Args:
        level: which aim.
        due: tells the SHORT levels apart; "" otherwise.
        value: of the plan as the saw would cut it; units or counts as in Level.
        certified: no plan as short on each due date, and as good on the levels duals.py names, is under it; None where
            neither a dual nor the plain "not below 0" says anything.
    """

    level: Level
    due: str
    value: int
    certified: int | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is wrong with a plan, and its values.

    Args:
        faults: one sentence each; empty for a sound plan.
        notes: bounds the plan claims and no dual shows; they may still be right (found by enumeration).
        figures: in the order of the levels, without duals where a bar, a count or a dual is wrong; empty
            where a bar of the plan cannot be replayed.
    """

    faults: tuple[str, ...]
    notes: tuple[str, ...]
    figures: tuple[Figure, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.faults

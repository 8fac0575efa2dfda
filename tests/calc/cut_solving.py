"""The planner as the tests ask it."""

from inventory.calc.cut_problem import Plan, Problem
from inventory.calc.cut_solver import solve


def planned(problem: Problem, seconds: float = 20, seed: int = 0) -> Plan:
    """Solve."""
    return solve(problem, limit_seconds=seconds, seed=seed)

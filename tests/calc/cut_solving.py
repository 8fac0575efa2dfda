"""The planner as the tests ask it."""

import pytest

from inventory.calc.cut_problem import Plan, Problem


def planned(problem: Problem, seconds: float = 20, seed: int = 0) -> Plan:
    """Solve, or skip the test while there is no planner."""
    solver = pytest.importorskip("inventory.calc.cut_solver", reason="the planner is being written")
    plan: Plan = solver.solve(problem, limit_seconds=seconds, seed=seed)
    return plan

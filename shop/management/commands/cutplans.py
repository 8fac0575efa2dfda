"""Answer cut questions: a line of JSON in, a line of JSON out, the plan and how good it is."""

import json
import os
import sys
import time
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from typing import Any

from django.core.management.base import BaseCommand

from inventory.calc import cut_json, cut_plan_json, cut_solver, cut_verifier
from inventory.calc.cut_problem import Order

_WIDTH = 14


def _help() -> str:
    keys = "\n".join(f"  {key:{_WIDTH}}{words}" for key, words in cut_json.KEYS.items())
    return (
        "Reads one question a line from standard input and writes one line for each, in order: bars with their items in\n"
        "the order of the saw, what is missing and the bar it needs, and every level with value, bound and whether it is\n"
        "proven. Values are those of the verifier; a plan it finds fault with is an error, never an answer. A line that\n"
        'cannot be read gives {"line": number, "error": sentence}, and the exit code is 1.\n\n'
        f"Keys of a question:\n{keys}\n  and, unread:  {', '.join(cut_json.NOTES)}"
    )


class Command(BaseCommand):
    help = _help()
    requires_system_checks = ()

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Leave the list of keys as it is laid out."""
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs)

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the time, the order and the seed."""
        parser.add_argument(
            "--limit", type=float, default=10.0, help="seconds for each question, from when its line was read (10)"
        )
        parser.add_argument(
            "--order", choices=[order.value for order in Order], help="which aims come first, whatever a line says"
        )
        parser.add_argument("--seed", type=int, help="for what is drawn, whatever a line says")

    def handle(self, *args: Any, **options: Any) -> None:
        """Answer line by line."""
        limit = options["limit"]
        if not 0 <= limit <= 86_400:
            self.stderr.write("--limit: 0 to 86400 seconds would work.")
            sys.exit(2)
        order = Order(options["order"]) if options["order"] else None
        wrong = 0
        try:
            for number, line in enumerate(sys.stdin.buffer, 1):
                started = time.perf_counter()
                if not line.strip():
                    continue
                answer = _answer(line, limit, order, options["seed"], started)
                if "error" in answer:
                    wrong += 1
                    answer = {"line": number, **answer}
                print(json.dumps(answer), flush=True)
        except BrokenPipeError:  # whoever read has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if wrong:
            sys.exit(1)


def _answer(line: bytes, limit: float, order: Order | None, seed: int | None, started: float) -> dict[str, Any]:
    try:
        asked = cut_json.read(line.decode(), order=order)
    except UnicodeDecodeError:
        return {"error": "line: no UTF-8; save the file as UTF-8."}
    except cut_json.Unreadable as wrong:
        return {"error": str(wrong)}
    drawn = asked.seed if seed is None else seed
    found = cut_solver.solve(asked.problem, limit_seconds=limit, seed=drawn, started=started)
    verdict = cut_verifier.check(asked.problem, found)
    if verdict.faults:
        return {"name": asked.problem.name, "error": f"the plan is wrong: {verdict.faults[0]}"}
    return cut_plan_json.written(asked.problem, cut_verifier.restated(asked.problem, found))

"""`manage.py cutplans` as another program uses it: lines in, lines out, in order, in time, whatever is in them."""

import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from inventory.calc import cut_json

pytestmark = pytest.mark.daily("sqlite")

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "manage.py", "cutplans"]
RAWS = '{"name": "raws", "capacity": 100, "items": [[45, 97], [36, 610], [31, 395], [14, 211]]}'
RACK = (
    '{"name": "rack", "kerf": 15, "min_remnant": 3000, "bars": [{"id": "A", "length": 10478, "kind": "remnant"},'
    ' {"id": "B", "length": 57404, "trim": 127}], "items": [[921, 28]]}'
)


def run(lines: str | bytes, *words: str) -> tuple[int, list[dict[str, Any]], str]:
    sent = lines.encode() if isinstance(lines, str) else lines
    done = subprocess.run([*COMMAND, *words], cwd=ROOT, input=sent, capture_output=True, timeout=120, check=False)
    return done.returncode, [json.loads(line) for line in done.stdout.splitlines()], done.stderr.decode()


def test_each_line_is_answered_in_order_and_a_bad_one_keeps_nobody_back() -> None:
    code, answers, _ = run(f"{RAWS}\n\n{{no json\n{RACK}\n", "--limit", "10")
    assert code == 1
    raws, wrong, rack = answers
    # 452.25 by the linear program, 453 bars are enough: V. Chvatal, Linear Programming (1983), chapter 13, from memory.
    cost = next(row for row in raws["levels"] if row["level"] == "cost")
    assert cost == {"level": "cost", "value": 453, "bound": 453, "proven": True}
    assert (wrong["line"], wrong["error"].split(":")[0]) == (3, "line")
    assert rack["name"] == "rack"
    assert rack["missing"] == []
    assert sum(len(bar["items"]) for bar in rack["bars"]) == 28
    assert run(RACK)[0] == 0


def test_the_order_and_the_seed_of_the_command_go_before_those_of_a_line() -> None:
    _, (answer,), _ = run(RACK, "--order", "strict", "--seed", "3")
    assert [row["level"] for row in answer["levels"]][:4] == ["short", "cost", "full", "scrap"]


def test_a_line_that_is_no_text_is_an_error_of_its_own() -> None:
    code, answers, _ = run(b"\xff\xfe\n" + RACK.encode())
    assert code == 1
    assert answers[0] == {"line": 1, "error": "line: no UTF-8; save the file as UTF-8."}
    assert answers[1]["name"] == "rack"


@pytest.mark.parametrize("limit", ["0", "0.1", "0.5"])
def test_the_limit_is_kept_from_the_moment_a_line_was_read(limit: str) -> None:
    huge = json.dumps(
        {
            "kerf": 15,
            "min_remnant": 3_000,
            "bars": [{"id": f"F{n}", "length": 61_000 + 7 * n, "trim": 50} for n in range(50)],
            "items": [[400 + 37 * n, 60] for n in range(12)],
        }
    )
    with subprocess.Popen(
        [*COMMAND, "--limit", limit], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as command:
        assert command.stdin
        assert command.stdout
        for _ in range(3):  # the first answer waits for the program to start
            began = time.monotonic()
            command.stdin.write(huge + "\n")
            command.stdin.flush()
            answer = json.loads(command.stdout.readline())
            took = time.monotonic() - began
            assert answer["bars"], "a plan at every limit"
            assert answer["seconds"] <= float(limit) + 1
        assert took <= float(limit) + 2, "seen from outside, with a machine that does other things too"
        command.stdin.close()


@pytest.mark.parametrize(
    "line",
    [
        '{"capacity": 1000000000000, "items": [[333333333333, 100000]]}',
        '{"capacity": 1000000000000, "items": [[7, 100000], [11, 100000], [999999999989, 3]]}',
        '{"kerf": 1, "bars": [], "items": [[5, 3]]}',
        '{"kerf": 1, "bars": [{"id": "A", "length": 4}], "items": []}',
    ],
)
def test_questions_of_absurd_size_are_answered_in_time(line: str) -> None:
    began = time.monotonic()
    code, (answer,), said = run(line, "--limit", "1")
    assert code == 0, said
    assert "levels" in answer
    assert time.monotonic() - began < 15


def test_a_reader_who_goes_away_ends_it_quietly() -> None:
    with subprocess.Popen(
        [*COMMAND, "--limit", "0.2"], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as command:
        assert command.stdin
        assert command.stdout
        assert command.stderr
        command.stdin.write((RACK + "\n").encode())
        command.stdin.flush()
        command.stdout.readline()
        command.stdout.close()
        try:
            for _ in range(50):
                command.stdin.write((RACK + "\n").encode())
                command.stdin.flush()
                time.sleep(0.05)
        except BrokenPipeError:
            pass
        command.stdin = None
        assert "Traceback" not in command.stderr.read().decode()


def test_every_key_is_named_in_the_help() -> None:
    said = subprocess.run([*COMMAND, "--help"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert all(f"  {key} " in said for key in cut_json.KEYS)
    assert "--limit" in said


def test_a_limit_that_is_none_is_refused() -> None:
    code, answers, said = run(RACK, "--limit", "-1")
    assert (code, answers) == (2, [])
    assert "--limit" in said

"""`manage.py shipdates` as another program uses it: documents in, lines out, the same answer to the same question."""

import contextlib
import json
import math
import os
import re
import subprocess
import sys
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from orders.calc.dates import MODEL
from orders.calc.dates_json.example import EXAMPLE
from orders.calc.dates_json.keys import SECTIONS, SHOP
from orders.calc.dates_json.questions import KINDS, QUESTION

pytestmark = pytest.mark.daily("sqlite")

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "manage.py", "shipdates"]
SMALL = {**json.loads(EXAMPLE), "futures": 100, "questions": [{"ask": "promises"}]}
LINE = json.dumps(SMALL)


def run(sent: str | bytes, *words: str, env: dict[str, str] | None = None) -> tuple[int, bytes, str]:
    given = sent.encode() if isinstance(sent, str) else sent
    done = subprocess.run(
        [*COMMAND, *words], cwd=ROOT, input=given, capture_output=True, timeout=120, check=False, env={**os.environ, **(env or {})}
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr.decode()


def answers(said: bytes) -> list[dict[str, Any]]:
    return [json.loads(line) for line in said.splitlines()]


def test_the_help_names_every_key_and_its_example_is_answered() -> None:
    said = subprocess.run([*COMMAND, "--help"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    keys = [*SHOP, *QUESTION, *KINDS, *(key for _, section in SECTIONS.values() for key in section)]
    assert [key for key in keys if f"\n  {key} " not in said] == []
    lines = said.splitlines()
    example = "\n".join(lines[lines.index("{") : lines.index("}") + 1])
    code, found, trouble = run(example)
    assert (code, trouble) == (0, "")
    (answer,) = answers(found)
    assert [one["ask"] for one in answer["answers"]] == list(KINDS)
    assert not any("error" in one for one in answer["answers"])
    assert answer["answers"][0]["day"] >= "2026-12-02"


def test_the_example_of_the_readme_is_answered_as_it_says() -> None:
    text = (ROOT / "README.md").read_text("utf-8").split("`./manage.py shipdates` reads")[1]
    sent, said = text.split("$ echo '")[1].split("' \\\n")
    (answer,) = answers(run(sent)[1])
    (when,) = answer["answers"]
    shown = re.findall(r'"day": "([0-9-]+)", "(half|chance)": "?([0-9.-]+)', said)
    assert [key for _, key, _ in shown] == ["half", "chance", "chance"]
    (day, _, half), *curve = shown
    assert (when["day"], when["half"]) == (day, half)
    assert all(
        {"day": day, "chance": float(chance)} in when["curve"] for day, chance in [(one[0], one[2]) for one in curve]
    )
    # 1,080 minutes times a lognormal of mean 1, and 30 to pack, against 351 a day and 273 until the carrier comes.
    law = NormalDist(-(0.2**2) / 2, 0.2)
    for days, one in zip((1, 2, 3, 4, 5), when["curve"], strict=True):
        assert one["chance"] == pytest.approx(law.cdf(math.log((351 * days + 273 - 30) / 1_080)), abs=0.02)


def test_the_same_document_gives_the_same_answer_to_the_last_sign_in_another_process() -> None:
    first, second = (run(EXAMPLE, env={"PYTHONHASHSEED": seed})[1] for seed in ("1", "2"))
    assert first == second
    assert answers(first)[0]["model"].startswith(f"{MODEL}, NumPy ")


def test_documents_are_answered_in_order_and_a_bad_one_keeps_nobody_back() -> None:
    bad = json.dumps({**SMALL, "lines": [{"order": "81", "item": "hammer 2 lb", "pieces": "12"}]})
    code, said, _ = run(f"{LINE}\n\n{bad}\n{json.dumps({**SMALL, 'name': 'third'})}\n")
    assert code == 0, "a refusal is an answer"
    first, refused, third = answers(said)
    assert first["answers"][0]["promises"][0]["order"] == "81"
    assert refused == {"line": 3, "error": "lines[0].pieces: '12' is text; a whole number from 0 to 1000 would work."}
    assert third["name"] == "third"


@pytest.mark.parametrize("first", [b"{no json", b"\xff\xfe", b"[1, 2"])
def test_what_is_no_json_is_told_apart_by_the_exit_code(first: bytes) -> None:
    code, said, _ = run(first + b"\n" + LINE.encode() + b"\n" + LINE.encode())
    assert code == 1
    wrong, right, again = answers(said)
    assert (wrong["line"], wrong["error"].split(":")[0]) == (1, "document")
    assert right == again


def test_a_document_laid_out_over_many_lines_is_one_whole_or_broken() -> None:
    laid_out = json.dumps(SMALL, indent=2)
    assert run(f"\n{laid_out}\n")[:2] == run(LINE)[:2]
    code, said, _ = run(laid_out[:-1])
    assert code == 1
    assert [one["line"] for one in answers(said)] == [1]


def test_nothing_gives_nothing() -> None:
    assert run("\n \n") == (0, b"", "")


def test_documents_are_read_from_a_file(tmp_path: Path) -> None:
    file = tmp_path / "shop.json"
    file.write_text(EXAMPLE)
    code, said, _ = run("", str(file))
    assert (code, len(answers(said))) == (0, 1)
    code, said, trouble = run("", str(tmp_path / "none.json"))
    assert (code, said) == (2, b"")
    assert "none.json: " in trouble
    assert "would work" in trouble


def test_a_line_is_answered_before_the_next_one_comes() -> None:
    with subprocess.Popen(COMMAND, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as command:
        assert command.stdin
        assert command.stdout
        for _ in range(2):
            command.stdin.write(LINE + "\n")
            command.stdin.flush()
            assert json.loads(command.stdout.readline())["answers"]
        command.stdin.close()


def test_a_reader_who_goes_away_ends_it_quietly() -> None:
    with subprocess.Popen(
        COMMAND, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as command:
        assert command.stdin
        assert command.stdout
        assert command.stderr
        command.stdin.write((LINE + "\n").encode())
        command.stdin.flush()
        command.stdout.readline()
        command.stdout.close()
        try:
            for _ in range(10):
                command.stdin.write((LINE + "\n").encode())
                command.stdin.flush()
            command.stdin.close()
        except BrokenPipeError:
            with contextlib.suppress(BrokenPipeError):
                command.stdin.close()
        assert "Traceback" not in command.stderr.read().decode()

"""./deploy/start, run for real: it comes up, survives the death of a part, stops without a trace, refuses in one sentence."""

import contextlib
import json
import os
import re
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from deploy import processes
from deploy.environment import PYTHON, ROOT
from tests.servers import free_port, private_folder, wait_until

START = str(ROOT / "deploy" / "start")


@pytest.fixture
def data() -> Iterator[Path]:
    folder = private_folder()
    yield folder
    subprocess.run(["rm", "-rf", folder], check=True)


def start(data: Path, port: int, *words: str, env: dict[str, str] | None = None) -> subprocess.Popen[str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BICKERN_")}
    return subprocess.Popen(
        [START, "--data", str(data), "--port", str(port), *words],
        env={**clean, "BICKERN_DEMO_DAYS": "7", **(env or {})},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def refused(data: Path, port: int, **env: str) -> str:
    process = start(data, port, "--empty", env=env)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 1
    return said.strip()


def answers(port: int) -> bool:
    with contextlib.suppress(OSError, urllib.error.URLError):
        return bool(urllib.request.urlopen(f"http://127.0.0.1:{port}/livez", timeout=5).status == 200)
    return False


def pids(data: Path) -> dict[str, int]:
    found: dict[str, int] = json.loads((data / "run" / "pids.json").read_text())
    return found


def family(process: subprocess.Popen[str]) -> list[psutil.Process]:
    return psutil.Process(process.pid).children(recursive=True)


def wait_until_up(process: subprocess.Popen[str], port: int) -> None:  # the demo's loading included
    def up() -> bool:
        assert process.poll() is None, process.communicate()
        return answers(port)

    wait_until(up, "the first answer", 150)


def stop(process: subprocess.Popen[str]) -> str:
    process.send_signal(signal.SIGINT)
    said, _ = process.communicate(timeout=30)
    return said


def running(children: list[psutil.Process]) -> list[psutil.Process]:
    return [child for child in children if child.is_running() and child.status() != psutil.STATUS_ZOMBIE]


def test_it_survives_a_dead_part_stops_without_a_trace_and_comes_back_with_its_data(data: Path) -> None:
    port = free_port()
    process = start(data, port, "--empty")
    wait_until_up(process, port)
    before = pids(data)
    assert set(before) == {"supervisor", "broker", "web", "worker", "beat"}
    another = refused(data, free_port())
    assert another == f"The data folder {data} is being served already; stop that service first."
    for part in ("worker", "broker"):
        os.kill(before[part], signal.SIGKILL)
        wait_until(lambda part=part: pids(data).get(part, before[part]) != before[part], f"the return of the {part}")
    children = family(process)
    assert len(children) >= 4  # broker, web, worker, timetable; the worker may not have its own yet
    said = stop(process)
    assert f"http://localhost:{port}" in said
    assert len(re.findall(r"^http://\S+/start/\S{20,}$", said, re.MULTILINE)) == 1  # makes the owner
    assert "Stopped; the data is kept." in said
    assert running(children) == []
    assert not answers(port)

    key = (data / "secret_key").read_text()
    born = (data / "bickern.sqlite3").stat().st_ino
    again = start(data, port)  # without --empty: a real shop stays one
    wait_until_up(again, port)
    assert (data / "secret_key").read_text() == key
    assert (data / "bickern.sqlite3").stat().st_ino == born
    assert not (data / "demo-access.txt").exists()
    children = family(again)
    again.kill()  # without a chance to stop anything: the kernel ends the parts
    again.communicate()
    wait_until(lambda: running(children) == [], "the end of the orphans")


def test_a_taken_port_is_refused_in_one_sentence(data: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert refused(data, port) == f"Port {port} is in use on this machine; choose another one with --port."


def test_a_folder_that_cannot_be_written_is_refused_in_one_sentence(data: Path) -> None:
    in_the_way = data / "file"
    in_the_way.touch()
    said = refused(in_the_way / "below", free_port())
    assert said == f"The data folder {in_the_way / 'below'} cannot be written; choose another one with --data."


def test_a_folder_with_the_demo_does_not_become_a_real_shop(data: Path) -> None:
    (data / "kind").write_text("demo")
    said = refused(data, free_port())
    assert said == f"The data folder {data} holds the demo; choose another one for a real shop with --data."


@pytest.mark.parametrize(
    ("version", "has_venv", "sentence"),
    [
        ("3.9", True, "Bickern needs Python 3.11 or newer and this machine has 3.9;"),
        ("3.12", False, "Python 3.12 is here without its venv module;"),
        ("", True, "Bickern needs Python 3.11 or newer and this machine has none;"),
    ],
)
def test_a_python_that_will_not_do_is_refused_in_one_sentence(
    data: Path, version: str, has_venv: bool, sentence: str
) -> None:
    # The script asks each Python three things: its version, whether that will do, whether it has venv.
    old = version in {"", "3.9"}
    program = f"""#!/bin/sh
[ -n "{version}" ] || exit 127
case "$2" in
    *print*) echo {version} ;;
    *sys.exit*) exit {int(old)} ;;
    *ensurepip*) exit {int(not has_venv)} ;;
esac
"""
    for name in ("python", *(f"python3{minor}" for minor in ("", ".11", ".12", ".13", ".14"))):
        (data / name).write_text(program)
        (data / name).chmod(0o755)
    said = refused(data, free_port(), PATH=f"{data}:/usr/bin:/bin")
    assert said.startswith(sentence)
    assert len(said.splitlines()) == 1


@pytest.mark.long
def test_a_path_too_long_for_a_socket_still_works(data: Path) -> None:
    deep = data / ("a long folder name with blanks " * 3).strip() / "deeper"
    port = free_port()
    process = start(deep, port, "--empty")
    wait_until_up(process, port)
    stop(process)
    assert (deep / "bickern.sqlite3").exists()


def test_a_demo_whose_loading_was_broken_off_is_made_anew(data: Path) -> None:
    (data / "run").mkdir()
    (data / "run" / "demo-unfinished").touch()
    (data / "bickern.sqlite3").write_text("half a demo")
    env = processes.environment(data, "memory://", {"BICKERN_DATABASE_URL": ""})
    done = subprocess.run([PYTHON, "-P", "-m", "deploy.prepare"], env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (data / "bickern.sqlite3").read_bytes().startswith(b"SQLite format 3")
    assert not (data / "run" / "demo-unfinished").exists()


@pytest.mark.long
def test_the_demo_is_there_in_two_minutes_and_its_log_ins_stay_the_same(data: Path) -> None:
    port = free_port()
    began = time.monotonic()
    process = start(data, port)
    wait_until_up(process, port)
    assert time.monotonic() - began < 120
    first = stop(process)
    again = start(data, port)
    wait_until_up(again, port)
    second = stop(again)
    log_ins = re.findall(r"^Log in as .*$", first, re.MULTILINE)
    assert len(log_ins) >= 2
    assert re.findall(r"^Log in as .*$", second, re.MULTILINE) == log_ins
    assert re.findall(r"^API key: \S+$", second, re.MULTILINE) == re.findall(r"^API key: \S+$", first, re.MULTILINE)
    env = processes.environment(data, "memory://", {"BICKERN_DATABASE_URL": ""})
    book = subprocess.run(processes.manage("check_book"), env=env, capture_output=True, text=True, check=False)
    assert book.returncode == 0, book.stdout

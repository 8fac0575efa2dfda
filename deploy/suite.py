"""Run lint, types, contracts and all tests with private servers: what ./deploy/test runs."""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from deploy import environment
from deploy.environment import PYTHON, ROOT, VENV, Stop

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
COVERED = "*/calc/*,*/services/*"
COVERAGE_FLOOR = 0  # per cent of branches and lines of calc and services; may only rise
PROCESSES = "2"  # for each database; the two runs go side by side, as a quarter of the time tests wait for servers
NOTHING_SELECTED = 5  # pytest's exit code


@dataclass(slots=True)
class Wishes:
    """What the command line asked for."""

    long: bool = False
    browser: bool = True
    check: bool = True
    coverage: bool = False
    pytest: list[str] = field(default_factory=list)


def main(words: Sequence[str]) -> int:
    """Make the environment, move into it, run everything; return 0 when all passed."""
    wishes = _wishes(words)
    for number in (signal.SIGTERM, signal.SIGHUP):  # the private servers must go also when the run is broken off
        signal.signal(number, lambda number, _frame: sys.exit(128 + number))
    try:
        line = environment.ensure("test")
        if Path(sys.prefix) != VENV:
            print(f"environment {line}", flush=True)
            os.execv(PYTHON, [str(PYTHON), "-P", "-m", "deploy.suite", *words])  # noqa: S606 - no shell is wanted
        return _run_all(wishes)
    except Stop as reason:
        print(reason, file=sys.stderr)
        return 1


def _wishes(words: Sequence[str]) -> Wishes:
    wishes = Wishes()
    for word in words:
        if word == "--long":
            wishes.long = wishes.coverage = True
        elif word == "--coverage":
            wishes.coverage = True
        elif word == "--no-browser":
            wishes.browser = False
        elif word == "--no-check":
            wishes.check = False
        else:
            wishes.pytest.append(word)
    return wishes


def _run_all(wishes: Wishes) -> int:
    from tests.servers import Postgres  # noqa: PLC0415 - needs the packages that were installed a moment ago

    env = {**os.environ, "HYPOTHESIS_PROFILE": "long" if wishes.long else "ci"}
    for name in [name for name in env if name.startswith("BICKERN_")]:
        del env[name]  # a service that runs here is nobody's business in the tests
    if wishes.browser:
        env["CHROMIUM"] = find_browser(install=True)
    results: dict[str, tuple[int, str]] = {}
    if wishes.check:
        results["check"] = _step("lint, layout, types, contracts", [str(ROOT / "deploy" / "check")], env)
    with _private_folder() as folder, Postgres() as server:
        env["TMPDIR"] = str(folder)
        env["BICKERN_TEST_POSTGRES"] = server.url("postgres")
        env["COVERAGE_FILE"] = str(folder / "coverage" / "data")
        on_server = {**env, "BICKERN_DATABASE_URL": server.url("bickern")}
        with _aside(folder / "postgresql.log", wishes, on_server, "not bench") as other:
            results["SQLite"] = _pytest("tests on SQLite", wishes, env, "not bench")
            results["PostgreSQL"] = other("tests on PostgreSQL")
        if wishes.coverage:
            results["coverage"] = _coverage(env)
        if wishes.long:
            results["bench"] = _pytest("benches", wishes, env, "bench", processes="0")
    return _report(results)


@contextlib.contextmanager
def _private_folder() -> Iterator[Path]:
    """Give a folder for everything temporary, which goes away also when a test was killed; others may pass through it."""
    folder = Path(tempfile.mkdtemp(prefix="bickern-test-", dir="/tmp"))  # short, as Unix sockets need
    folder.chmod(0o711)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def _aside(log: Path, wishes: Wishes, env: Mapping[str, str], which: str) -> Iterator[Callable[[str], tuple[int, str]]]:
    """Run tests beside others, their output kept in a file; what is given shows it, to the end, and says how they went."""
    began = time.monotonic()
    with log.open("w") as out:
        process = _start(_words(wishes, env, which, PROCESSES), env, out)

    def show(title: str) -> tuple[int, str]:
        print(f"\n== {title}", flush=True)
        last, ended = "", False
        with log.open(errors="replace") as lines:
            while not ended:
                ended = process.poll() is not None  # asked before reading, so that the last lines are read
                for line in lines:
                    print(line, end="", flush=True)
                    last = line.strip() or last
                time.sleep(0.2)
        return _code(process.returncode, wishes, which), f"{last} [{time.monotonic() - began:.0f} s]"

    try:
        yield show
    finally:
        if process.poll() is None:  # the run is being broken off
            process.terminate()
            process.wait()


def _pytest(
    title: str, wishes: Wishes, env: Mapping[str, str], which: str, processes: str = PROCESSES
) -> tuple[int, str]:
    code, last = _step(title, _words(wishes, env, which, processes), env)
    return _code(code, wishes, which), last


def _words(wishes: Wishes, env: Mapping[str, str], which: str, processes: str) -> list[str]:
    measured = ["-m", "coverage", "run"] if wishes.coverage and which != "bench" else []
    if measured:
        Path(env["COVERAGE_FILE"]).parent.mkdir(exist_ok=True)
    chosen = which
    if not wishes.long:
        chosen += " and not long"
    if not wishes.browser:
        chosen += " and not browser"
    words = ["-m", "pytest", "-q", "-n", processes, "--dist", "worksteal", "-m", chosen, *wishes.pytest]
    return [str(PYTHON), *measured, *words]


def _code(code: int, wishes: Wishes, which: str) -> int:
    """Return 0 also where no test was chosen and that is no fault."""
    may_be_empty = bool(wishes.pytest) or which == "bench"
    return 0 if code == NOTHING_SELECTED and may_be_empty else code


def _coverage(env: Mapping[str, str]) -> tuple[int, str]:
    """Say which branches of calc and services no test took, and fail below the floor."""
    coverage = [str(PYTHON), "-m", "coverage"]
    _step("coverage", [*coverage, "combine", "--quiet"], env)
    report = [*coverage, "report", "--no-skip-covered", f"--include={COVERED}", f"--fail-under={COVERAGE_FLOOR}"]
    return _step("coverage of calc and services", report, env)


def _step(title: str, command: Sequence[str], env: Mapping[str, str]) -> tuple[int, str]:
    """Run one step with its output shown; return its exit code and last line."""
    print(f"\n== {title}", flush=True)
    began, last = time.monotonic(), ""
    process = _start(command, env, subprocess.PIPE)
    assert process.stdout is not None
    try:
        for line in process.stdout:
            print(line, end="", flush=True)
            last = line.strip() or last
        code = process.wait()
    except BaseException:  # the run is being broken off: let the tests take their own servers down
        process.terminate()
        process.wait()
        raise
    return code, f"{last} [{time.monotonic() - began:.0f} s]"


def _start(command: Sequence[str], env: Mapping[str, str], out: int | IO[str]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        list(command), cwd=ROOT, env=dict(env), stdin=subprocess.DEVNULL, stdout=out, stderr=subprocess.STDOUT,
        text=True, errors="replace",
    )  # fmt: skip


def _report(results: Mapping[str, tuple[int, str]]) -> int:
    print("\n== result")
    for name, (code, last) in results.items():
        print(f"{'passed' if code == 0 else 'FAILED'}  {name}: {last}")
    return max(1 if code else 0 for code, _ in results.values())


def find_browser(*, install: bool = False) -> str:
    """Return the path of a Chromium; when asked, and as root on Debian, install one where there is none."""
    given = os.environ.get("CHROMIUM")
    if given and shutil.which(given):
        return given
    if install and not _on_path() and os.geteuid() == 0 and shutil.which("apt-get"):
        print("Chromium is missing; installing it with apt-get ...", flush=True)
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        for words in (["update", "-q"], ["install", "-y", "-q", "--no-install-recommends", "chromium"]):
            subprocess.run(["apt-get", *words], env=quiet, capture_output=True, stdin=subprocess.DEVNULL, check=False)
    found = _on_path()
    if not found:
        raise Stop(
            "No Chromium was found on this machine; install one (on Debian and Ubuntu: apt-get install chromium), "
            "name it in CHROMIUM, or leave the browser tests out with --no-browser."
        )
    return found


def _on_path() -> str:
    return next((path for path in map(shutil.which, BROWSERS) if path), "")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

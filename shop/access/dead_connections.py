"""Connections whose other end has gone: the system asks after them, so that none keeps a thread for good.

A tablet that leaves the wireless network in the middle of a form says nothing more and closes nothing. The web server
waits for the rest of the form without end, and as many such forms as it has threads would stop the whole shop. It has
no setting for this; what is set on the socket that listens, Linux hands down to every connection it accepts.
"""

import functools
import os
import socket
from contextlib import suppress
from pathlib import Path

QUIET_SECONDS, ASK_EVERY_SECONDS, ASK_TIMES = 20, 5, 4
"""A silent connection is asked after 20 s; one that answers nothing is closed 20 s later."""

_OPEN_FILES = Path("/proc/self/fd")


@functools.cache
def notice() -> int:
    """Have the dead noticed among the connections of every socket on which this process listens; return how many.

    Called with every request and done with the first: before it, the web server does not listen yet.
    """
    return sum(map(_ask_after, _open_sockets()))


def _open_sockets() -> list[int]:
    found = []
    for entry in _OPEN_FILES.iterdir() if _OPEN_FILES.is_dir() else ():
        with suppress(OSError):  # the one that lists the folder is closed by now
            if str(entry.readlink()).startswith("socket:"):
                found.append(int(entry.name))
    return found


def _ask_after(number: int) -> bool:
    with suppress(OSError), socket.socket(fileno=os.dup(number)) as listener:
        if listener.family not in {socket.AF_INET, socket.AF_INET6} or not _listens(listener):
            return False
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, QUIET_SECONDS)
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, ASK_EVERY_SECONDS)
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, ASK_TIMES)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        return True
    return False


def _listens(found: socket.socket) -> bool:
    return found.type == socket.SOCK_STREAM and bool(found.getsockopt(socket.SOL_SOCKET, socket.SO_ACCEPTCONN))

"""A tablet that stops in the middle of a form, or says it a byte at a time, holds nobody else up."""

import socket
import subprocess
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

import pytest

from deploy import processes
from deploy.environment import ROOT
from tests.servers import Service, free_port

FORM = b"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 5000\r\n\r\nlogin="
HALF = b"POST /login HTTP/1.1\r\nHost: localhost\r\nCookie: bickern_csrf=" + b"a" * 32 + b"\r\n" + FORM
HALF_A_HEAD = b"GET /livez HTTP/1.1\r\nHost: loc"
MANY = 100  # far more than the web server has threads


@pytest.mark.django_db  # a service starts on a copy of the tests' tables
def test_a_hundred_half_sent_forms_stop_nobody(start_service: Callable[..., Service]) -> None:
    service = start_service(parts=("web",))
    address = ("127.0.0.1", service.port)
    with ExitStack() as open_sockets:
        tablets = [open_sockets.enter_context(socket.create_connection(address)) for _ in range(MANY)]
        for number, tablet in enumerate(tablets):
            tablet.sendall(HALF if number % 2 else HALF_A_HEAD)
        time.sleep(0.5)
        for _ in range(20):
            assert service.answers()
        for tablet in tablets[1::2]:
            tablet.sendall(b"a")  # a byte more: still nobody waits for them
        assert service.answers()


def test_a_connection_that_says_nothing_is_closed(tmp_path: Path) -> None:
    port = free_port()
    env = processes.environment(tmp_path, "memory://", {"DJANGO_SETTINGS_MODULE": "shop.settings.testing"})
    web = subprocess.Popen([*processes.web(port, "127.0.0.1"), "--silent-seconds", "2"], cwd=ROOT, env=env)
    try:
        tablet = _connect(port)
        tablet.settimeout(15)
        tablet.sendall(HALF)
        assert tablet.recv(100) == b""
        tablet.close()
    finally:
        web.terminate()
        assert web.wait(10) == 0  # asked to stop, it finishes what has begun and goes


def _connect(port: int) -> socket.socket:
    until = time.monotonic() + 30
    while True:
        try:
            return socket.create_connection(("127.0.0.1", port))
        except ConnectionRefusedError:
            assert time.monotonic() < until
            time.sleep(0.1)

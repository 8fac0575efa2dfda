"""A tablet that leaves the network in the middle of a form does not keep a thread of the web server for good."""

import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shop.access import dead_connections
from tests.servers import Service

_KEEPALIVE = "02"  # which timer runs, as proc_pid_net(5) numbers them: 02 is the one that asks after a silent end


@pytest.fixture(autouse=True)
def _not_yet_done() -> Iterator[None]:
    dead_connections.notice.cache_clear()
    yield
    dead_connections.notice.cache_clear()


def timer_of(service_port: int, client_port: int) -> str:
    """Return which timer runs on the server's end of a connection."""
    for line in Path("/proc/net/tcp").read_text().splitlines()[1:]:
        _, local, remote, _state, _queues, timer = line.split()[:6]
        if (int(local[-4:], 16), int(remote[-4:], 16)) == (service_port, client_port):
            return timer.split(":")[0]
    raise AssertionError("the connection is gone")


@pytest.mark.django_db  # a service starts on a copy of the tests' tables
def test_the_server_asks_after_a_form_that_stops_in_the_middle(start_service: Callable[..., Service]) -> None:
    service = start_service(parts=("web",))
    for _ in range(20):  # both processes of the web server have answered
        assert service.answers()
    form = b"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 5000\r\n\r\nlogin="
    half = b"POST /login HTTP/1.1\r\nHost: localhost\r\nCookie: bickern_csrf=" + b"a" * 32 + b"\r\n" + form
    for _ in range(4):
        with socket.create_connection(("127.0.0.1", service.port)) as tablet:
            tablet.sendall(half)
            time.sleep(0.1)  # until what was sent is acknowledged, another timer runs
            assert timer_of(service.port, tablet.getsockname()[1]) == _KEEPALIVE


def test_a_socket_that_listens_hands_the_question_down_to_what_it_accepts() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener, socket.socket() as other:
        assert dead_connections.notice() >= 1
        assert not other.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)
        with socket.create_connection(listener.getsockname()), listener.accept()[0] as accepted:
            assert accepted.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE) == dead_connections.QUIET_SECONDS
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT) == dead_connections.ASK_TIMES


def test_it_is_done_once_for_a_process() -> None:
    with socket.create_server(("127.0.0.1", 0)):
        first = dead_connections.notice()
        with socket.create_server(("127.0.0.1", 0)) as later:
            assert dead_connections.notice() == first
            assert not later.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)

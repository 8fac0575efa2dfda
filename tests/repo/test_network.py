"""Tests cannot reach anything but this machine."""

import socket

import pytest
from pytest_socket import SocketConnectBlockedError

ELSEWHERE = ("192.0.2.1", 80)  # RFC 5737: an address for documentation, which belongs to nobody


@pytest.mark.filterwarnings("ignore:A test tried to use socket")
def test_a_test_cannot_speak_to_another_machine() -> None:
    with socket.socket() as line, pytest.raises(SocketConnectBlockedError):
        line.connect(ELSEWHERE)


def test_a_test_can_speak_to_a_server_on_this_machine() -> None:
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen()
        with socket.create_connection(server.getsockname(), timeout=5) as line:
            assert line.getpeername() == server.getsockname()

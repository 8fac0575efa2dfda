"""Mail over sealed connections: STARTTLS, sealed from the first byte, and a log-in; never in the clear where it should not be."""

import ssl
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import trustme
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

from shop.shared.mail import carrier
from shop.shared.mail.carrier import Letter, NotTaken
from tests.servers import MailServer

pytestmark = pytest.mark.daily("sqlite")

LETTER = Letter("bickern@forge.example", "ines@example.org", b"Subject: Order handles today\r\n\r\nsix of them\r\n")
NAME, PASSWORD = "forge", "a password with spaces"


def _let_in(_server: SMTP, _session: Session, _envelope: Envelope, _mechanism: str, said: LoginPassword) -> AuthResult:
    return AuthResult(success=(said.login, said.password) == (NAME.encode(), PASSWORD.encode()), handled=False)


@pytest.fixture
def post_office(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Any]]:
    """A function that opens a mail server with a seal of an authority that this machine trusts, or not."""
    server = MailServer()
    settings.SMTP_HOST, settings.SMTP_PORT, settings.SMTP_TIMEOUT_SECONDS = "127.0.0.1", server.port, 5

    def opened(
        *, trusted: bool = True, name: str = "127.0.0.1", first_byte: bool = False, offered: bool = True
    ) -> MailServer:
        authority = trustme.CA()
        known = authority if trusted else trustme.CA()
        known.cert_pem.write_to_path(tmp_path / "authorities.pem")
        monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authorities.pem"))
        seal = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        authority.issue_cert(name).configure_cert(seal)
        how = {"ssl_context": seal} if first_byte else {"tls_context": seal} if offered else {}
        settings.SMTP_TLS, settings.SMTP_STARTTLS = first_byte, not first_byte
        server.start(authenticator=_let_in, auth_require_tls=not first_byte, **how)
        return server

    yield opened
    server.stop()


def carried() -> str:
    return carrier.carry(LETTER, hand_over=lambda: True)


@pytest.mark.parametrize("first_byte", [False, True], ids=["STARTTLS", "sealed from the first byte"])
def test_it_is_sent_sealed_and_logged_in(
    post_office: Callable[..., MailServer], settings: Any, first_byte: bool
) -> None:
    settings.SMTP_USER, settings.SMTP_PASSWORD = NAME, PASSWORD
    server = post_office(first_byte=first_byte)
    assert carried() == "OK"
    assert [mail.recipients for mail in server.accepted] == [["ines@example.org"]]


def test_a_wrong_password_is_said_and_nothing_is_sent(post_office: Callable[..., MailServer], settings: Any) -> None:
    settings.SMTP_USER, settings.SMTP_PASSWORD = NAME, "not this one"
    server = post_office()
    with pytest.raises(NotTaken, match="Authentication"):
        carried()
    assert server.attempts == 0


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"trusted": False}, "CERTIFICATE_VERIFY_FAILED"),
        ({"name": "post.example"}, "CERTIFICATE_VERIFY_FAILED"),
        ({"trusted": False, "first_byte": True}, "CERTIFICATE_VERIFY_FAILED"),
        ({"offered": False}, "STARTTLS"),
    ],
    ids=["unknown authority", "another's name", "unknown authority from the first byte", "no seal offered"],
)
def test_what_cannot_be_sealed_is_not_sent(
    post_office: Callable[..., MailServer], settings: Any, wrong: dict[str, Any], said: str
) -> None:
    settings.SMTP_USER, settings.SMTP_PASSWORD = NAME, PASSWORD
    server = post_office(**wrong)
    with pytest.raises(NotTaken, match=said):
        carried()
    assert server.attempts == 0
    assert server.accepted == []

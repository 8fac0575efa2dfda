"""Hands one message to the SMTP server in phases, so that it is always known whether the server may have taken it."""

import contextlib
import smtplib
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.mail.utils import DNS_NAME

DEADLINE_TIMEOUTS = 10  # a server that drips one byte a second is cut off after so many times the timeout of one answer
LONGEST_SECONDS = 300.0  # well below the age at which a claim counts as left behind


class NotTaken(Exception):
    """The server certainly does not have the message."""

    def __init__(self, why: str, *, permanent: bool = False) -> None:
        super().__init__(why)
        self.permanent = permanent


class Unknown(Exception):
    """The text was under way when the connection failed: the server may have the message or not."""


class NoLongerOurs(Exception):
    """Another worker took the row over before the text was handed out."""


@dataclass(frozen=True, slots=True)
class Letter:
    """What goes over the wire."""

    sender: str
    recipient: str
    content: bytes


def configured() -> bool:
    """Say whether a mail server is set."""
    return bool(settings.SMTP_HOST)


def carry(letter: Letter, *, hand_over: Callable[[], bool]) -> str:
    """Give the letter to the server and return its answer.

    `hand_over` is called once, after the server took the recipient and before any text goes out; it commits that the
    outcome may be unknown from now on, and returns False where the row belongs to somebody else by now.

    Raises:
        NotTaken: refused or failed before the text, or the server said no to the text.
        Unknown: failed after the text had begun.
        NoLongerOurs: `hand_over` said so.
    """
    with _session() as smtp:
        _envelope(smtp, letter)
        if not hand_over():
            raise NoLongerOurs
        try:
            code, answer = smtp.data(letter.content)
        except smtplib.SMTPDataError as exc:
            raise _refused("the text", exc.smtp_code, exc.smtp_error) from exc
        except (OSError, smtplib.SMTPException) as exc:
            raise Unknown(_words(exc)) from exc
        if code != 250:
            raise _refused("the text", code, answer)
        return _text(answer)


class _CutOff:
    """Cuts the connection when all of it together takes too long, from the first byte of the server's greeting on."""

    _cut: threading.Timer

    def connect(self, *args: Any, **kwargs: Any) -> Any:
        seconds = min(settings.SMTP_TIMEOUT_SECONDS * DEADLINE_TIMEOUTS, LONGEST_SECONDS)
        self._cut = threading.Timer(seconds, self._cut_off)
        self._cut.daemon = True
        self._cut.start()
        try:
            return super().connect(*args, **kwargs)  # type: ignore[misc]  # mixed into smtplib's classes below
        except BaseException:
            self._cut.cancel()
            raise

    def close(self) -> None:
        self._cut.cancel()
        super().close()  # type: ignore[misc]

    def _cut_off(self) -> None:
        with contextlib.suppress(OSError, AttributeError):  # None once it is closed
            self.sock.shutdown(socket.SHUT_RDWR)  # type: ignore[attr-defined]


class _Plain(_CutOff, smtplib.SMTP):
    pass


class _Encrypted(_CutOff, smtplib.SMTP_SSL):
    pass


@contextlib.contextmanager
def _session() -> Iterator[smtplib.SMTP]:
    """Open, greet, encrypt and log in."""
    try:
        smtp = _connect()
    except (OSError, smtplib.SMTPException, UnicodeError) as exc:
        raise NotTaken(f"The mail server {settings.SMTP_HOST} could not be used: {_words(exc)}") from exc
    try:
        yield smtp
    finally:
        with contextlib.suppress(OSError, smtplib.SMTPException):
            smtp.close()


def _connect() -> smtplib.SMTP:
    host, port, name = settings.SMTP_HOST, settings.SMTP_PORT, DNS_NAME.get_fqdn()
    timeout = settings.SMTP_TIMEOUT_SECONDS
    smtp: smtplib.SMTP
    if settings.SMTP_TLS:
        trusted = ssl.create_default_context()
        smtp = _Encrypted(host, port, local_hostname=name, timeout=timeout, context=trusted)
    else:
        smtp = _Plain(host, port, local_hostname=name, timeout=timeout)
    try:
        smtp.ehlo_or_helo_if_needed()
        if settings.SMTP_STARTTLS:
            smtp.starttls(context=ssl.create_default_context())
            smtp.ehlo()
        if settings.SMTP_USER:
            smtp.login(settings.SMTP_USER, settings.SMTP_PASSWORD)
    except BaseException:
        smtp.close()
        raise
    return smtp


def _envelope(smtp: smtplib.SMTP, letter: Letter) -> None:
    try:
        code, answer = smtp.mail(letter.sender)
        if code != 250:
            raise _refused("the sender", code, answer)
        code, answer = smtp.rcpt(letter.recipient)
        if code not in {250, 251}:
            raise _refused("the recipient", code, answer)
    except (OSError, smtplib.SMTPException, UnicodeError) as exc:
        raise NotTaken(f"The mail server stopped answering: {_words(exc)}") from exc


def _refused(what: str, code: int, answer: bytes | str) -> NotTaken:
    return NotTaken(f"The mail server refused {what}: {code} {_text(answer)}", permanent=code >= 500)


def _text(answer: bytes | str) -> str:
    return (answer.decode("utf-8", "replace") if isinstance(answer, bytes) else answer)[:300]


def _words(exc: BaseException) -> str:
    return f"{type(exc).__name__} {exc}"[:300]

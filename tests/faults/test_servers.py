"""The private servers of the tests do what the tests believe of them."""

import smtplib
from collections.abc import Callable
from email.message import EmailMessage

import psycopg
import pytest

from tests.servers import Broker, MailServer, Service, create_database


def send(server: MailServer) -> None:
    message = EmailMessage()
    message["Subject"], message["From"], message["To"] = "Größe ½", "shop@example.org", "owner@example.org"
    message.set_content("ä")
    with smtplib.SMTP(server.host, server.port, timeout=1) as line:
        line.send_message(message)


def test_the_mail_server_keeps_what_it_accepts(smtp_server: MailServer) -> None:
    send(smtp_server)
    assert [mail.message["Subject"] for mail in smtp_server.accepted] == ["Größe ½"]
    assert smtp_server.accepted[0].recipients == ["owner@example.org"]


@pytest.mark.parametrize(
    ("mode", "seen"),
    [
        ("busy", smtplib.SMTPDataError),
        ("refuse", smtplib.SMTPRecipientsRefused),
        ("drop", smtplib.SMTPServerDisconnected),
        ("silent", (TimeoutError, smtplib.SMTPServerDisconnected)),
    ],
)
def test_the_mail_server_fails_in_the_way_it_is_told(
    smtp_server: MailServer, mode: str, seen: type[Exception] | tuple[type[Exception], ...]
) -> None:
    smtp_server.mode = mode
    with pytest.raises(seen):
        send(smtp_server)
    assert smtp_server.accepted == []
    assert len(smtp_server.dropped) == (1 if mode in {"drop", "silent"} else 0)


def test_a_stopped_mail_server_refuses_and_comes_back(smtp_server: MailServer) -> None:
    smtp_server.stop()
    with pytest.raises(ConnectionRefusedError):
        send(smtp_server)
    smtp_server.start()
    send(smtp_server)
    assert len(smtp_server.accepted) == 1


def test_the_broker_comes_back_after_a_kill(broker: Broker) -> None:
    broker.kill()
    with pytest.raises(OSError, match=r"refused|No such file"):
        broker.flush()
    broker.start()
    broker.flush()


def test_each_database_of_the_private_server_is_new(postgres_url: str) -> None:
    with psycopg.connect(create_database(postgres_url)) as one:
        one.execute("CREATE TABLE mark (n int)")
    with psycopg.connect(create_database(postgres_url)) as other:
        assert other.execute("SELECT count(*) FROM pg_tables WHERE tablename = 'mark'").fetchone() == (0,)


@pytest.mark.long  # the walk through the day runs on both every time
@pytest.mark.parametrize("database", ["sqlite", "postgres"])
def test_the_whole_service_runs_on_both_databases(start_service: Callable[..., Service], database: str) -> None:
    service = start_service(database)
    assert service.answers()
    vendor = service.python("from django.db import connection\nprint(connection.vendor)").strip()
    assert vendor == {"sqlite": "sqlite", "postgres": "postgresql"}[database]
    service.kill_part("web")
    assert not service.answers()

"""The night's mail when things go wrong: never lost, and never taken twice but for the one repeat that is allowed.

Times pass by a frozen clock or by putting a row's time back; everything else is real: processes, kills, servers.
"""

import datetime as dt
import json
import os
import signal
import socket
import subprocess
import threading
import time
from contextlib import closing, contextmanager, suppress

import pytest
from django.db import connections, transaction

from deploy import processes
from deploy.environment import ROOT
from shop.flows import night, ringing
from shop.shared import bell, jobs, shop_row
from shop.shared.mail import carrier, outbox
from shop.shared.models import Job, Message, NightResult
from shop.shared.shop_row import Settings
from tests.servers import wait_until

AT = dt.datetime(2026, 11, 26, 5, 0, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)

MAKE_SHOP = """
from django.db import transaction
from shop.shared import clock, shop_row
from shop.shared.shop_row import Settings
with transaction.atomic():
    shop_row.make(Settings("Invented Forge", "UTC", night_hour=0), at=clock.now(), by="tests")
    people = [(f"Reader {n}", f"reader{n}@example.org") for n in range(PEOPLE)]
    shop_row.set_recipients(people, at=clock.now(), by="tests")
"""
LATER = """
import datetime as dt, json
from shop.flows import ringing
from shop.shared import clock
from shop.shared.models import Message
states = []
for minutes in MINUTES:
    with clock.frozen(clock.now() + dt.timedelta(minutes=minutes)):
        assert ringing.ring(clock.now) == []
    states.append(Message.objects.get().state)
print(json.dumps(states))
"""
SEEN = """
import json
from shop.shared.models import Job, Message, NightResult
rows = list(Message.objects.order_by("id").values_list("state", "attempts", "repeats", "message_id", "log"))
print(json.dumps([NightResult.objects.count(), rows, list(Job.objects.order_by("kind").values_list("kind", "attempts"))]))
"""


def seen(service):
    """Return the number of results, the messages and the jobs as the service's database has them."""
    return json.loads(service.python(SEEN))


def a_service(start_service, smtp_server, people=1, database="sqlite", parts=()):
    service = start_service(database=database, env=smtp_server.env, parts=parts)
    service.python(MAKE_SHOP.replace("PEOPLE", str(people)))
    return service


def ring(service, times=1):
    """Start a process that rings, and do not wait for it."""
    return subprocess.Popen(
        processes.manage("ring", "--times", str(times)), cwd=ROOT, env=service._settings, start_new_session=True
    )


def later(service, *minutes):
    """Ring so many minutes from now, in one process, and return the message's state after each."""
    return json.loads(service.python(LATER.replace("MINUTES", str(minutes))))


# With real processes


@pytest.mark.race
@pytest.mark.parametrize("database", [pytest.param("sqlite", marks=pytest.mark.long), "postgres"])
def test_three_timetables_ringing_ten_times_at_once_give_one_result_and_each_message_once(
    start_service, smtp_server, database
):
    service = a_service(start_service, smtp_server, people=12, database=database)
    ringers = [ring(service, times=10) for _ in range(3)]
    assert [ringer.wait(120) for ringer in ringers] == [0, 0, 0]
    results, messages, made = seen(service)
    assert results == 1
    assert [row[:3] for row in messages] == [["sent", 1, 0]] * 12
    assert sorted(mail.recipients[0] for mail in smtp_server.accepted) == sorted(
        f"reader{n}@example.org" for n in range(12)
    )
    assert len({mail.message["Message-ID"] for mail in smtp_server.accepted}) == 12
    assert ["backup", 1] in made


def test_a_worker_killed_while_the_server_had_the_text_is_repeated_once_under_the_same_id(start_service, smtp_server):
    service = a_service(start_service, smtp_server)
    smtp_server.mode = "silent"
    ringer = ring(service)
    wait_until(lambda: smtp_server.dropped, "the text at the server")
    os.killpg(ringer.pid, signal.SIGKILL)
    ringer.wait()
    smtp_server.mode = "accept"
    _, [[state, attempts, repeats, message_id, _]], _ = seen(service)
    assert (state, attempts, repeats) == ("handed", 1, 0)

    assert later(service, 9, 11, 12, 40) == ["handed", "sent", "sent", "sent"]  # not before ten minutes have passed
    assert [mail.message["Message-ID"] for mail in smtp_server.accepted] == [message_id]
    assert smtp_server.dropped[0].message["Message-ID"] == message_id
    _, [[state, attempts, repeats, _, log]], _ = seen(service)
    assert (state, attempts, repeats) == ("sent", 2, 1)
    assert "repeated once under the same Message-ID" in log[0]["said"]


def test_a_worker_killed_before_any_text_went_out_is_simply_tried_again_even_with_a_dead_broker(
    start_service, smtp_server
):
    service = a_service(start_service, smtp_server)
    service.broker.kill()
    smtp_server.stop()
    with mute_server(smtp_server.port) as connected:
        ringer = ring(service)
        assert connected.wait(30)
        os.killpg(ringer.pid, signal.SIGKILL)
        ringer.wait()
    smtp_server.start()
    assert later(service, 9, 11, 30) == ["claimed", "sent", "sent"]
    assert len(smtp_server.accepted) == 1
    assert seen(service)[1][0][:3] == ["sent", 2, 0]


def test_the_bell_wakes_the_worker_and_a_worker_killed_at_its_task_loses_nothing(start_service, smtp_server):
    service = a_service(start_service, smtp_server, parts=("worker",))
    smtp_server.mode = "silent"
    service.python("from shop.flows import night; from shop.shared import bell, clock\n"
                   "night.run_if_due(clock.now); assert bell.ring_now()")  # fmt: skip
    wait_until(lambda: smtp_server.dropped, f"the worker's mail; {service.log('worker')}")
    service.kill_part("worker")
    smtp_server.mode = "accept"
    service.broker.flush()
    service.start_part("worker")
    service.python(
        "import datetime as dt; from django.db.models import F; from shop.shared.models import Message; "
        "from shop.shared import bell\n"
        "Message.objects.update(claimed_at=F('claimed_at') - dt.timedelta(minutes=11)); assert bell.ring_now()"
    )
    wait_until(lambda: smtp_server.accepted, f"the repeat; {service.log('worker')}")
    assert len(smtp_server.accepted) == 1
    wait_until(lambda: seen(service)[1][0][:3] == ["sent", 2, 1], "the row to say so")


# With a frozen clock in this process


class Ticking:
    def __init__(self, at) -> None:
        self.at = at

    def __call__(self) -> dt.datetime:
        self.at += dt.timedelta(microseconds=1)
        return self.at


@pytest.fixture
def night_written(settings, smtp_server, db):
    """A night that is written and not sent, and a mail server that is set."""
    settings.SMTP_HOST, settings.SMTP_PORT, settings.SMTP_TIMEOUT_SECONDS = smtp_server.host, smtp_server.port, 1
    with transaction.atomic():
        shop_row.make(Settings("Invented Forge", "UTC", night_hour=5), at=AT, by="tests")
        shop_row.set_recipients([("Reader", "reader@example.org")], at=AT, by="tests")
    assert night.run_if_due(lambda: AT)
    return smtp_server


def minutes(first, last):
    """Ring every minute, as the timetable does."""
    for minute in range(first, last):
        outbox.send_due(Ticking(AT + minute * MINUTE))


def test_with_the_mail_server_down_for_an_hour_the_message_comes_a_quarter_of_an_hour_after_it_is_back(night_written):
    night_written.stop()
    minutes(0, 60)
    row = Message.objects.get()
    assert (row.state, row.attempts) == ("waiting", 7)  # after 0, 1, 3, 7, 15, 30 and 45 minutes
    assert "could not be used" in outbox.sentence()
    night_written.start()
    minutes(60, 76)
    minutes(76, 200)
    assert len(night_written.accepted) == 1
    row.refresh_from_db()
    assert (row.state, row.repeats) == ("sent", 0)
    assert row.sent_at <= AT + 76 * MINUTE


def test_a_lost_answer_is_repeated_once_with_the_same_id_and_never_a_second_time(night_written):
    night_written.mode = "drop"
    minutes(0, 180)
    row = Message.objects.get()
    assert [got.message["Message-ID"] for got in night_written.dropped] == [row.message_id] * 2
    assert (row.state, row.repeats, row.attempts) == ("given_up", 1, 2)
    assert [line["said"].split(":")[0] for line in row.log] == [
        "The connection failed after the text had begun",
        "Nobody knows whether the server took it; repeated once under the same Message-ID.",
        "The connection failed after the text had begun",
        "The outcome of the repeat is unknown as well; not sent a third time.",
    ]


def test_a_lost_answer_is_repeated_after_ten_minutes_and_then_taken(night_written):
    night_written.mode = "drop"
    minutes(0, 5)
    night_written.mode = "accept"
    minutes(5, 10)
    assert night_written.accepted == []
    minutes(10, 60)
    assert len(night_written.accepted) == len(night_written.dropped) == 1
    assert Message.objects.get().state == "sent"


def test_a_server_that_is_busy_at_the_text_has_certainly_not_got_it_and_that_is_no_repeat(night_written):
    night_written.mode = "busy"
    minutes(0, 30)
    night_written.mode = "accept"
    minutes(30, 60)
    row = Message.objects.get()
    assert len(night_written.accepted) == 1
    assert (row.state, row.repeats) == ("sent", 0)
    assert "451 try again later" in row.log[0]["said"]


def test_a_mailbox_that_does_not_exist_is_tried_three_times(night_written):
    night_written.mode = "refuse"
    minutes(0, 120)
    row = Message.objects.get()
    assert (row.state, row.attempts) == ("given_up", 3)
    assert "550 no such mailbox here" in row.log[-1]["said"]
    assert night_written.accepted == []


def test_a_mail_server_that_never_comes_back_is_given_up_after_a_day(night_written):
    night_written.stop()
    minutes(0, 60 * 26)
    assert Message.objects.get().state == "given_up"


def test_a_server_that_drips_a_byte_a_second_is_cut_off(night_written, settings, monkeypatch):
    monkeypatch.setattr(carrier, "DEADLINE_TIMEOUTS", 2)
    with mute_server(0, drip=b"2") as port_of:
        settings.SMTP_PORT = port_of.port
        began = time.monotonic()
        minutes(0, 1)
        assert 1 < time.monotonic() - began < 30
    assert Message.objects.get().state == "waiting"


def test_a_worker_that_lost_its_claim_hands_nothing_out(night_written, monkeypatch):
    row = outbox.claim(AT)
    other = outbox.claim(AT + 11 * MINUTE)
    assert other.pk == row.pk
    assert not outbox._send(row, lambda: AT + 11 * MINUTE)
    assert night_written.attempts == 0
    assert outbox._send(other, lambda: AT + 11 * MINUTE)
    assert len(night_written.accepted) == 1


def test_a_worker_that_wakes_up_with_the_servers_yes_stops_the_repeat(night_written):
    """A slow worker had its text taken; another one took the row over as unknown and has not handed it out yet."""
    slow = outbox.claim(AT)
    taken_over = []

    class Late:
        def __call__(self) -> dt.datetime:
            if Message.objects.get().state == "handed" and not taken_over:
                taken_over.append(outbox.claim(AT + 11 * MINUTE))
            return AT + 11 * MINUTE

    clock = Late()
    assert outbox._send(slow, clock)
    assert taken_over
    assert not outbox._send(taken_over[0], clock)
    assert len(night_written.accepted) == 1
    assert Message.objects.get().state == "sent"


@pytest.mark.parametrize("state", ["claimed", "handed"])
def test_a_clock_put_back_an_hour_neither_loses_nor_doubles_a_message(night_written, state):
    assert outbox.claim(AT)
    Message.objects.update(state=state)  # its worker is dead, and the clock goes back
    minutes(-60, 10)
    assert night_written.accepted == []
    minutes(10, 60)
    assert len(night_written.accepted) == 1


def test_a_message_whose_header_cannot_be_written_is_given_up_and_keeps_no_other_waiting(night_written):
    good = Message.objects.get()
    Message.objects.create(
        kind="night", local_date=AT.date(), recipient="b@example.org", message_id="<b@x>", text="t",
        subject="two\nlines", next_try_at=AT - MINUTE,
    )  # fmt: skip
    minutes(0, 3)
    good.refresh_from_db()
    assert good.state == "sent"
    bad = Message.objects.get(recipient="b@example.org")
    assert bad.state == "given_up"
    assert "Cannot be written" in bad.log[-1]["said"]


# The minute and the bell


def test_one_part_of_the_minute_that_fails_does_not_keep_the_others_from_being_done(night_written, monkeypatch):
    monkeypatch.setattr(ringing.sweeping, "sweep", broken)
    monkeypatch.setattr(ringing, "HANDLERS", {"backup": broken})
    assert ringing.ring(Ticking(AT)) == ["sweep"]
    assert len(night_written.accepted) == 1
    assert Job.objects.get(kind="backup").attempts == 1
    assert jobs.last_beat()


def broken(*args):
    raise RuntimeError("broken on purpose")


@transaction.atomic
def add_and_break():
    jobs.add("copy", "1", AT)
    broken()


@pytest.fixture
def bell_on(settings, broker):
    broker.flush()
    settings.CELERY_BROKER_URL = broker.url
    bell._publisher.cache_clear()
    yield broker
    bell._publisher.cache_clear()


def test_a_broker_that_answers_nothing_holds_up_no_request(bell_on):
    assert bell.ring_now()
    bell_on.pause()
    try:
        began = time.monotonic()
        for _ in range(100):
            bell.ring()
        assert time.monotonic() - began < 5  # one waiting request alone would take longer
        began = time.monotonic()
        assert not bell.ring_now()
        assert time.monotonic() - began < 30
    finally:
        bell_on.resume()
    wait_until(bell.ring_now, "the bell to be heard again", 15)


@pytest.mark.django_db(transaction=True)
def test_a_job_rings_the_bell_when_it_is_committed_and_not_when_it_is_rolled_back(bell_on, monkeypatch):
    rung = threading.Event()
    monkeypatch.setattr(bell, "ring_now", lambda: rung.set() or True)
    with pytest.raises(RuntimeError):
        add_and_break()
    assert not rung.wait(0.3)
    with transaction.atomic():
        jobs.add("copy", "1", AT)
        assert not rung.is_set()
    assert rung.wait(5)


@pytest.mark.django_db(transaction=True)
@pytest.mark.race
def test_eight_workers_at_once_carry_out_each_job_once():
    with transaction.atomic():
        for number in range(40):
            jobs.add("copy", str(number), AT)
    done = []

    def work():
        with closing(connections["default"]):
            jobs.run_due(lambda: AT, {"copy": lambda _payload, _at: done.append(1)})

    workers = [threading.Thread(target=work) for _ in range(8)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len(done) == 40
    assert Job.objects.filter(done_at=AT, attempts=1).count() == 40


@pytest.mark.django_db(transaction=True)
@pytest.mark.race
def test_eight_workers_at_once_write_one_night(smtp_server, settings):
    settings.SMTP_HOST, settings.SMTP_PORT = smtp_server.host, smtp_server.port
    with transaction.atomic():
        shop_row.make(Settings("Invented Forge", "UTC", night_hour=5), at=AT, by="tests")
        shop_row.set_recipients([("Reader", "reader@example.org")], at=AT, by="tests")
    start = threading.Barrier(8)
    made = []

    def work():
        with closing(connections["default"]):
            start.wait()
            made.append(night.run_if_due(lambda: AT))
            outbox.send_due(lambda: AT)

    workers = [threading.Thread(target=work) for _ in range(8)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len([result for result in made if result]) == 1
    assert NightResult.objects.count() == Message.objects.count() == len(smtp_server.accepted) == 1


class _Connected:
    """Says when somebody has connected, and where."""

    def __init__(self) -> None:
        self.event = threading.Event()
        self.port = 0

    def wait(self, seconds):
        return self.event.wait(seconds)


@contextmanager
def mute_server(port, drip=b""):
    """Take connections and say nothing, or one byte of a greeting a fifth of a second."""
    seen_ = _Connected()
    over = threading.Event()
    with socket.create_server(("127.0.0.1", port)) as listening:
        seen_.port = listening.getsockname()[1]
        listening.settimeout(0.2)
        lines = []

        def serve():
            while not over.wait(0.2 if lines else 0):
                with suppress(OSError):
                    lines.append(listening.accept()[0])
                    seen_.event.set()
                for line in lines if drip else []:
                    with suppress(OSError):
                        line.sendall(drip)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield seen_
        finally:
            over.set()
            thread.join()
            for line in lines:
                line.close()


@pytest.mark.django_db(transaction=True)
def test_nothing_rings_while_a_book_is_filled_and_everything_does_after(bell_on, monkeypatch):
    rung = threading.Event()
    monkeypatch.setattr(bell, "ring_now", lambda: rung.set() or True)
    with bell.quiet(), transaction.atomic():
        jobs.add("copy", "1", AT)
    with pytest.raises(RuntimeError), bell.quiet():
        broken()
    assert not rung.wait(0.3)
    with transaction.atomic():
        jobs.add("copy", "2", AT)
    assert rung.wait(5)

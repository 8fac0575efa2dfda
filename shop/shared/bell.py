"""Rings the worker's bell after a commit. What must be done stands in a row; a bell that nobody hears loses nothing.

A thread of its own does the ringing, so that a broker that is down or does not answer never holds up a request, and
many rings close together become one.
"""

import logging
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from celery import Celery
from django.conf import settings
from django.db import transaction

TASK = "shop.tasks.nudged"
EXPIRES_SECONDS = 60

log = logging.getLogger(__name__)


class _Bell:
    """One thread a process; a forked child makes its own."""

    def __init__(self) -> None:
        self.wanted = threading.Event()
        threading.Thread(target=self._listen, name="bell", daemon=True).start()

    def _listen(self) -> None:
        while True:
            self.wanted.wait()
            self.wanted.clear()
            ring_now()


_bells: dict[int, _Bell] = {}  # by process
_making = threading.Lock()
_quiet = threading.Event()


def ring_after_commit() -> None:
    """Ring once the open transaction is committed; at once where none is open."""
    transaction.on_commit(ring, robust=True)


@contextmanager
def quiet() -> Iterator[None]:
    """Ring nothing meanwhile: a book is filled before its worker runs, and the timetable rings when it does."""
    _quiet.set()
    try:
        yield
    finally:
        _quiet.clear()


def ring() -> None:
    """Ask the bell's thread to ring; returns at once."""
    if _quiet.is_set():
        return
    with _making:
        bell = _bells.get(os.getpid()) or _Bell()
        _bells[os.getpid()] = bell
    bell.wanted.set()


def ring_now() -> bool:
    """Publish the wake-up message; return whether the broker took it, after a few seconds at the most."""
    try:
        _publisher().send_task(TASK, expires=EXPIRES_SECONDS, ignore_result=True)
    except Exception as exc:  # noqa: BLE001 - whatever the transport raises: the timetable rings every minute anyway
        log.warning("The bell was not heard (%s); the timetable rings within a minute.", type(exc).__name__)
        return False
    return True


@cache
def _publisher() -> Celery:
    """Return a client that only publishes, with short waits; the worker must not share them, it waits on purpose."""
    app = Celery("bell", broker=settings.CELERY_BROKER_URL, set_as_current=False)
    once = {"max_retries": 1, "interval_start": 0, "interval_step": 0.1, "interval_max": 0.2}
    app.conf.update(
        broker_connection_timeout=1,
        broker_transport_options={
            "socket_timeout": 1,
            "socket_connect_timeout": 1,
            "retry_on_timeout": False,
            **once,
        },
        task_publish_retry_policy=once,
        task_serializer="json",
    )
    return app

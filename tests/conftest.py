"""What every test can ask for. The network is closed but for the loopback interface; both databases run the same tests."""

import functools
import logging
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import TransactionTestCase
from hypothesis import HealthCheck, settings

from deploy.suite import find_browser
from tests.servers import Broker, MailServer, Postgres, Service, create_database

# Playwright's loop runs in the thread of the tests; without this Django refuses every query there.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

ON_POSTGRES = bool(os.environ.get("BICKERN_DATABASE_URL"))
VENDOR = "postgresql" if ON_POSTGRES else "sqlite"
LONG = os.environ.get("HYPOTHESIS_PROFILE") == "long"
DATABASE_FIXTURES = {"db", "transactional_db", "live_server", "django_db_reset_sequences"}
BROWSER_FIXTURES = {"page", "context", "browser", "browser_type"}
WHOLE_SERVICE_FIXTURES = {"start_service", "running_service"}

QUIET = [HealthCheck.too_slow]  # how busy the machine is says nothing of the shop
settings.register_profile(
    "ci", derandomize=True, deadline=None, max_examples=50, print_blob=True, suppress_health_check=QUIET
)
settings.register_profile("long", deadline=None, max_examples=1000, print_blob=True, suppress_health_check=QUIET)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


def pytest_configure() -> None:
    """Keep the mail server's chatter out of the reports."""
    logging.getLogger("mail.log").setLevel(logging.ERROR)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark browser tests; on the second database run only what a database can change, and each browser test once."""
    left_out = []
    for item in items:
        wanted = set(getattr(item, "fixturenames", ()))
        in_browser = bool(wanted & BROWSER_FIXTURES)
        if in_browser:
            item.add_marker("browser")
        uses_database = bool(wanted & DATABASE_FIXTURES) or item.get_closest_marker("django_db") is not None
        own_service = bool(wanted & WHOLE_SERVICE_FIXTURES)
        daily = item.get_closest_marker("daily")
        other_days = daily is not None and not LONG and daily.args != (VENDOR,)
        if other_days or (ON_POSTGRES and (own_service or not uses_database or (in_browser and not LONG))):
            left_out.append(item)
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    """Make the fresh test database what ./deploy/start makes of one: append-only triggers, standard places."""
    with django_db_blocker.unblock():
        if connection.introspection.table_names():  # none where no test of the run asks for the database
            call_command("after_migrate")


@pytest.fixture(scope="session", autouse=True)
def _flush_passes_the_triggers() -> Iterator[None]:
    """Emptying the tables after a test deletes rows of the book: take the triggers away for just that moment."""
    from shop.shared import append_only  # needs the settings

    teardown = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]

    def flush(case: TransactionTestCase) -> None:
        append_only.drop()
        try:
            teardown(case)
        finally:
            call_command("after_migrate")

    patch = pytest.MonkeyPatch()
    patch.setattr(
        append_only, "_columns", functools.cache(append_only._columns)
    )  # slow to read, and nothing changes them
    patch.setattr(TransactionTestCase, "_fixture_teardown", flush)
    yield
    patch.undo()


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """The address of a private PostgreSQL server: the one of ./deploy/test, else one started for this session."""
    given = os.environ.get("BICKERN_TEST_POSTGRES")
    if given:
        yield given
        return
    with Postgres() as server:
        yield server.url("postgres")


@pytest.fixture(scope="session")
def broker() -> Iterator[Broker]:
    """A private broker for the session; `broker.flush()` first where left-over messages would matter."""
    with Broker() as server:
        yield server


@pytest.fixture
def smtp_server() -> Iterator[MailServer]:
    """A mail server on a free port: `.accepted`, `.mode`, `.stop()`, `.start()`, `.env` for a service."""
    with MailServer() as server:
        yield server


@pytest.fixture(scope="session")
def _migrated(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with all tables, copied for each service so that not every one has to migrate."""
    copy = tmp_path_factory.mktemp("migrated") / "bickern.sqlite3"
    with django_db_blocker.unblock():
        if connection.introspection.table_names():
            with connection.cursor() as cursor:
                cursor.execute("VACUUM INTO %s", [str(copy)])
            return copy
    with Service(parts=()) as service:
        shutil.copyfile(service.folder / "bickern.sqlite3", copy)
    return copy


@pytest.fixture(scope="session")
def _migrated_on_postgres(postgres_url: str) -> str:
    """The name of a PostgreSQL database with all tables, copied for each service."""
    address = create_database(postgres_url)
    with Service(database_url=address, parts=()):
        return address.partition("@/")[2].partition("?")[0]


@pytest.fixture
def start_service(request: pytest.FixtureRequest, _migrated: Path) -> Iterator[Callable[..., Service]]:
    """A function that starts a whole service: `start_service(database="postgres", env=smtp_server.env)`."""
    started: list[Service] = []

    def start(database: str = "sqlite", **wishes: Any) -> Service:
        if database == "postgres":
            like = request.getfixturevalue("_migrated_on_postgres")
            wishes["database_url"] = create_database(request.getfixturevalue("postgres_url"), like)
            wishes["prepared"] = True
        service = Service(template=_migrated, **wishes)
        started.append(service)
        service.start()
        return service

    yield start
    for service in started:
        service.stop()


@pytest.fixture
def running_service(start_service: Callable[..., Service]) -> Service:
    """The whole service on the embedded default: SQLite, own broker, worker, timetable, web server at `.url`."""
    return start_service()


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Start the machine's own Chromium, which may speak to nobody but this machine."""
    flags = (
        "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
        "--disable-component-update --disable-sync --disable-dev-shm-usage"
    )
    only_here = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1"
    return {
        **browser_type_launch_args,
        "executable_path": find_browser(),
        "headless": True,
        "args": [*flags.split(), only_here],
    }

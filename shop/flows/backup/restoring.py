"""Brings a copy back. What was there before is kept aside, and nothing is touched before the copy has been opened."""

import datetime as dt
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from shop.flows.backup import databases, places, programs
from shop.flows.backup.places import DUMP, FILES, KEY, SQLITE, CopyFailed, NotNow
from shop.shared.errors import Invalid

RUNNING = "The service is running on this data; stop it first, then restore."
LOOKS = 15  # a fifth of a second apart
OTHERS = """
SELECT count(*) FROM pg_stat_activity
WHERE datname = %s AND pid <> pg_backend_pid() AND backend_type = 'client backend'
"""


@dataclass(frozen=True, slots=True)
class Restored:
    """What was brought back, where the old state lies, and what the check of the book said."""

    made_at: str
    aside: str
    balances: bool | None
    said: str


def restore(folder: Path, *, at: dt.datetime) -> Restored:
    """Replace database, files and key by those of a copy; called outside any transaction, while nothing else runs."""
    about = places.read_about(folder)
    _fits(about)
    _holds_no_links(folder)
    databases.verify(folder, about.database)
    stamp = at.astimezone(dt.UTC).strftime("%Y%m%d-%H%M%S")
    data = Path(settings.DATA)
    with places.alone(data / "run" / "lock", RUNNING):
        aside = data / f"before-restore-{stamp}"
        stage = data / f".restoring-{stamp}"
        try:
            _stage(folder, stage)
            old = _swap_sqlite(stage, aside) if about.database == "sqlite" else _swap_postgres(folder, stamp)
            _swap_files(stage, aside)
        finally:
            shutil.rmtree(stage, ignore_errors=True)
        programs.bring_up_to_date({})
        balances, said = programs.check_book({})
    where = f"{aside} and database {old}" if old else str(aside)
    return Restored(about.made_at, where, balances, said)


def _fits(about: places.About) -> None:
    if about.database != databases.kind():
        raise Invalid.field(
            "path", f"This copy holds a {about.database} database and the service uses {databases.kind()}; start it so."
        )
    known = {f"{app}.{name}" for app, name in MigrationLoader(None, ignore_no_migrations=True).disk_migrations}
    newer = sorted(set(about.migrations) - known)
    if newer:
        raise Invalid.field("path", f"A newer version made this copy ({newer[-1]}); restore it with that version.")


def _holds_no_links(folder: Path) -> None:
    """A link would bring in whatever it leads to, out of the whole machine; `backup` never makes one."""
    link = next((path for path in sorted(folder.rglob("*")) if path.is_symlink()), None)
    if link is not None:
        raise Invalid.field(
            "path", f"The copy holds a link, {link.relative_to(folder)}; take it out of the copy and restore again."
        )


def _stage(folder: Path, stage: Path) -> None:
    """Copy beside the data first: a disk that is too small is then noticed before anything is moved."""
    try:
        stage.mkdir(mode=0o700)
        for name in (SQLITE, KEY):
            if (folder / name).is_file():
                shutil.copy2(folder / name, stage / name)
                (stage / name).chmod(0o600)  # a copy that came by another disk may be open to everybody
        if (folder / FILES).is_dir():
            shutil.copytree(folder / FILES, stage / FILES)
    except OSError as exc:
        raise CopyFailed(f"The copy could not be brought beside the data: {exc.strerror or exc}.") from exc


def _swap_sqlite(stage: Path, aside: Path) -> str:
    book = Path(str(settings.DATABASES["default"]["NAME"]))
    connection.close()
    if book.exists():
        _alone_on(book)
    aside.mkdir(mode=0o700)
    for file in [book, *book.parent.glob(f"{book.name}-*")]:
        if file.exists():
            file.rename(aside / file.name)
    (stage / SQLITE).rename(book)
    return ""


def _alone_on(book: Path) -> None:
    """Leave write-ahead mode, which SQLite only allows to the one connection that there is; this also empties the log."""
    try:
        with closing(sqlite3.connect(book, timeout=0)) as alone:
            alone.execute("PRAGMA journal_mode=DELETE").fetchone()
    except sqlite3.OperationalError as exc:
        raise NotNow(RUNNING) from exc


def _swap_files(stage: Path, aside: Path) -> None:
    aside.mkdir(mode=0o700, exist_ok=True)
    for name, place in ((FILES, Path(settings.MEDIA_ROOT)), (KEY, Path(settings.DATA) / KEY)):
        if name == KEY and not (stage / name).exists():
            continue  # the key came by the environment when the copy was made
        if place.exists():
            shutil.move(place, aside / name)
        if (stage / name).exists():
            shutil.move(stage / name, place)


def _swap_postgres(folder: Path, stamp: str) -> str:
    """Fill a new database beside the old one, then exchange their names; return the old one's new name."""
    name = str(connection.settings_dict["NAME"])
    fresh, old = f"{name}_{stamp.replace('-', '_')}_new", f"{name}_{stamp.replace('-', '_')}_before"
    _nobody_else(name)
    connection.close()
    databases.administer("CREATE DATABASE {}", fresh)
    try:
        databases.run("pg_restore", "--no-owner", "--exit-on-error", f"--dbname={fresh}", str(folder / DUMP))
        databases.administer("ALTER DATABASE {} RENAME TO {}", name, old)
    except BaseException:
        databases.administer("DROP DATABASE IF EXISTS {}", fresh)
        raise
    databases.administer("ALTER DATABASE {} RENAME TO {}", fresh, name)
    return old


def _nobody_else(name: str) -> None:
    """Refuse while a program is connected; one that has just ended is given the seconds its server side takes to go.

    The server's own cleaning up does not count: renaming the database ends it.
    """
    with connection.cursor() as cursor:
        for _ in range(LOOKS):
            cursor.execute(OTHERS, [name])
            if not cursor.fetchone()[0]:
                return
            cursor.execute("SELECT pg_sleep(0.2)")
    raise NotNow(RUNNING)

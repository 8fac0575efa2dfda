"""Copies a database by its own safe way, while it is being written to, and looks whether the copy opens."""

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.db import connection

from shop.flows.backup.places import DUMP, SQLITE, CopyFailed

BUSY_SECONDS = 20


def kind() -> str:
    """Return which database the service uses."""
    return connection.vendor


def copy(folder: Path) -> None:
    """Write a copy of the database, as it stood at one instant, into a folder."""
    if kind() == "sqlite":
        _copy_sqlite(Path(str(settings.DATABASES["default"]["NAME"])), folder / SQLITE)
    else:
        run("pg_dump", "--format=custom", "--no-owner", f"--file={folder / DUMP}")


def verify(folder: Path, database: str) -> None:
    """Raise where the copy does not open or is not whole."""
    if database == "sqlite":
        _verify_sqlite(folder / SQLITE)
    else:
        run("pg_restore", "--list", str(folder / DUMP))


def run(program: str, *words: str) -> None:
    """Run one of PostgreSQL's programs against the service's database; the password goes by the environment."""
    found = shutil.which(program)
    if not found:
        raise CopyFailed(f"{program} is not on this machine; install PostgreSQL's client programs and try again.")
    done = subprocess.run(
        [found, *words], env={**os.environ, **_connection()}, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise CopyFailed(f"{program} could not finish: {(done.stderr or done.stdout).strip()[-500:]}")


def administer(statement: str, *names: str) -> None:
    """Run a statement about whole databases from beside them; each {} takes a name."""
    import psycopg  # noqa: PLC0415 - only where PostgreSQL is used
    from psycopg import sql  # noqa: PLC0415
    from psycopg.conninfo import make_conninfo  # noqa: PLC0415

    facts = connection.settings_dict
    wanted = {"host": facts["HOST"], "port": facts["PORT"], "user": facts["USER"], "password": facts["PASSWORD"]}
    given = {name: str(value) for name, value in wanted.items() if value}
    try:
        with psycopg.connect(make_conninfo(dbname="postgres", **given), autocommit=True) as server:
            server.execute(sql.SQL(statement).format(*(sql.Identifier(name) for name in names)))
    except psycopg.Error as exc:
        raise CopyFailed(f"The database server refused: {exc}") from exc


def _connection() -> Mapping[str, str]:
    facts = connection.settings_dict
    wanted = {
        "PGHOST": facts["HOST"],
        "PGPORT": facts["PORT"],
        "PGUSER": facts["USER"],
        "PGPASSWORD": facts["PASSWORD"],
        "PGDATABASE": facts["NAME"],
    }
    return {name: str(value) for name, value in wanted.items() if value}


def _copy_sqlite(source: Path, target: Path) -> None:
    try:
        with closing(sqlite3.connect(f"file:{source}?mode=rw", uri=True, timeout=BUSY_SECONDS)) as book:
            book.execute("VACUUM INTO ?", [str(target)])
    except sqlite3.Error as exc:
        raise CopyFailed(f"The database could not be copied: {exc}.") from exc


def _verify_sqlite(file: Path) -> None:
    try:
        with closing(sqlite3.connect(f"file:{file}?mode=ro&immutable=1", uri=True)) as book:
            said = [row[0] for row in book.execute("PRAGMA integrity_check")]
            loose = book.execute("PRAGMA foreign_key_check").fetchone()
            book.execute("SELECT count(*) FROM django_migrations").fetchone()
    except sqlite3.Error as exc:
        raise CopyFailed(f"The copy {file} does not open: {exc}.") from exc
    if said != ["ok"] or loose:
        what = "; ".join(said[:3]) if said != ["ok"] else f"table {loose[0]} names a row that is not there"
        raise CopyFailed(f"The copy {file} is not whole: {what}.")

"""Bring the database up to date and fill a new one; runs in the service's environment, before its processes start.

Progress goes to the standard error stream; what a person needs at the end (log-ins, a link) to the standard output.
"""

import io
import os
import sys
from pathlib import Path

import django
from django.core.management import call_command, get_commands
from django.db import connection

from deploy.environment import ROOT


def main(kind: str = "") -> None:
    """Migrate; then load the demo or make the owner's link, when asked and when the book is still empty."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings.base")
    half_loaded = _half_loaded_mark()
    if half_loaded.exists():
        _throw_away_half()
    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    if "after_migrate" in get_commands():
        call_command("after_migrate", stdout=sys.stderr)
    name = "PostgreSQL" if connection.vendor == "postgresql" else "SQLite"
    _say(f"  database      {name}, up to date")
    if kind == "demo":
        _demo(half_loaded)
    elif kind == "empty":
        _owner_link()


def _demo(half_loaded: Path) -> None:
    from shop.shared.models import Shop  # noqa: PLC0415 - needs django.setup()

    if Shop.objects.exists():
        return
    _say("  demo          making up an invented forge; two years of it take about two minutes ...")
    half_loaded.touch()
    access = io.StringIO()
    call_command("load_demo", stdout=access, stderr=sys.stderr)
    half_loaded.unlink()
    sys.stdout.write(access.getvalue())


def _owner_link() -> None:
    from shop.access.models import Person  # noqa: PLC0415 - needs django.setup()

    if not Person.objects.exists():
        print("Nobody is here yet. This address makes the owner; it works once and for 24 hours:", flush=True)
        call_command("owner_link")


def _data() -> Path:
    return Path(os.environ.get("BICKERN_DATA") or ROOT / ".data")


def _half_loaded_mark() -> Path:
    return _data() / "run" / "demo-unfinished"


def _throw_away_half() -> None:
    """Remove the file of a demo whose loading was broken off; a database on a server is the owner's to empty."""
    if os.environ.get("BICKERN_DATABASE_URL"):
        raise SystemExit("Loading the demo was broken off earlier; give an empty database and start again.")
    for file in _data().glob("bickern.sqlite3*"):
        file.unlink()
    _half_loaded_mark().unlink()


def _say(line: str) -> None:
    sys.stderr.write(line + "\n")
    sys.stderr.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])

"""Makes a copy under a name of its own and gives it its proper name only when it is whole and has been opened."""

import datetime as dt
import logging
import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.migrations.recorder import MigrationRecorder

from inventory.models import Movement
from shop.flows.backup import databases, places, programs
from shop.flows.backup.places import FILES, KEY, SQLITE, UNFINISHED, About, CopyFailed
from shop.shared.models import Shop

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Made:
    """A finished copy, what the check of its book said, and which old copies went."""

    folder: Path
    balances: bool | None
    said: str
    removed: tuple[Path, ...]


def nightly(_payload: dict[str, object], at: dt.datetime) -> None:
    """Make the night's copy; the job that the night leaves behind."""
    made = make(at=at)
    log.info("Copied the book to %s.", made.folder)
    if made.balances is False:
        log.warning("The book in the copy does not balance: %s", made.said)


def make(*, at: dt.datetime) -> Made:
    """Copy database, files and key into the backup folder, look whether the copy is whole, remove the oldest copies."""
    home = Path(settings.BACKUP_FOLDER)
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        with places.alone(home / ".lock", f"A copy is being made in {home} at this moment; wait for it."):
            return _make(home, at)
    except OSError as exc:
        raise CopyFailed(f"The copy could not be written to {home}: {exc.strerror or exc}.") from exc


def _make(home: Path, at: dt.datetime) -> Made:
    for left in home.glob(f"{UNFINISHED}*"):  # of a copy that was broken off; nobody else is at work here
        shutil.rmtree(left)
    stage = home / f"{UNFINISHED}{os.getpid()}"
    stage.mkdir(mode=0o700)
    try:
        _fill(stage, at)
        balances, said = _check(stage)
        _to_disk(stage)
        done = _free_name(home, at)
        stage.rename(done)
        _sync(home)
    except BaseException:
        shutil.rmtree(stage, ignore_errors=True)
        raise
    return Made(done, balances, said, _thin_out(home))


def _fill(stage: Path, at: dt.datetime) -> None:
    """Database first: a file that it names is there already, one that comes later does no harm."""
    databases.copy(stage)
    media, key = Path(settings.MEDIA_ROOT), Path(settings.DATA) / KEY
    if media.is_dir():
        shutil.copytree(media, stage / FILES)
    if key.is_file():
        shutil.copy2(key, stage / KEY)
    applied = sorted(f"{app}.{name}" for app, name in MigrationRecorder.Migration.objects.values_list("app", "name"))
    shop = Shop.objects.values_list("name", flat=True).first() or ""
    About(at.isoformat(), shop, databases.kind(), Movement.objects.count(), applied).write(stage)
    databases.verify(stage, databases.kind())


def _check(stage: Path) -> tuple[bool | None, str]:
    """Check the book: of the copy itself where it is a file, else of the database it was taken from."""
    if databases.kind() != "sqlite":
        return programs.check_book({})
    data = stage.with_name(f"{stage.name}-check")  # a data folder of its own: the check may leave things behind
    data.mkdir(mode=0o700)
    try:
        os.link(stage / SQLITE, data / SQLITE)
        return programs.check_book({"BICKERN_DATA": str(data), "BICKERN_DATABASE_URL": ""})
    finally:
        shutil.rmtree(data)


def _free_name(home: Path, at: dt.datetime) -> Path:
    zone = Shop.objects.values_list("zone", flat=True).first() or "UTC"
    name = at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d-%H%M")
    taken = {path.name for path in home.iterdir()}
    again = 2
    chosen = name
    while chosen in taken:  # the same minute, or the hour that a clock change repeats
        chosen, again = f"{name}-{again}", again + 1
    return home / chosen


def _thin_out(home: Path) -> tuple[Path, ...]:
    old = places.copies(home)[: -max(1, settings.BACKUP_KEEP)]
    for folder in old:
        shutil.rmtree(folder)
    return tuple(old)


def _to_disk(folder: Path) -> None:
    for path in [*folder.rglob("*"), folder]:
        _sync(path)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

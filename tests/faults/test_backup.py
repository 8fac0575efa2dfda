"""Dated copies and the way back from one, on both databases, while others write, and when something breaks off."""

import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
from contextlib import closing

import pytest

from deploy import processes
from deploy.environment import ROOT
from shop.flows import backup
from shop.flows.backup import databases, making, places, programs, restoring
from shop.shared.errors import Refusal
from tests.makers import AT
from tests.servers import postgres_programs, wait_until

FILL = """
from django.db import transaction
from shop.shared import clock, shop_row
from shop.shared.shop_row import Settings
from tests import makers
with transaction.atomic():
    shop_row.make(Settings("Invented Forge", "UTC", night_hour=0), at=clock.now(), by="tests")
item = makers.make_item("handle", code="KEPT")
makers.put_in(item, 30)
makers.make_order({item: 4})
"""
ADD = "from tests import makers; makers.put_in(makers.make_item('handle', code='LATER'), 5)"
CODES = "import json; from inventory.models import Item; print(json.dumps(sorted(Item.objects.values_list('code', flat=True))))"
WRITER = """
import time
from tests import makers
until = time.monotonic() + 60
while time.monotonic() < until:
    makers.put_in(makers.make_item("handle", code=f"W{makers.next_number()}"), 3)
"""


@pytest.fixture
def shop(start_service):
    """A shop with data, nothing of it running."""
    return filled(start_service(parts=()))


def filled(service):
    service.python(FILL)
    (service.folder / "files").mkdir()
    (service.folder / "files" / "drawing.txt").write_text("tongs")
    return service


def codes(service):
    return json.loads(service.python(CODES))


def copies(service):
    return places.copies(service.folder / "backup")


def refused(service, *words, said=""):
    """Run a command that must refuse, say something to it, and return its sentence."""
    done = subprocess.run(
        processes.manage(*words),
        cwd=ROOT,
        env=service._settings,
        capture_output=True,
        text=True,
        check=False,
        input=said,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    return done.stderr


@pytest.mark.parametrize("database", ["sqlite", "postgres"])
def test_a_copy_brings_everything_back_and_what_was_there_is_kept_aside(start_service, database):
    env = {"PATH": f"{postgres_programs()}:{os.environ['PATH']}"} if database == "postgres" else {}
    service = filled(start_service(database=database, env=env, parts=()))
    key = (service.folder / "secret_key").read_text()
    assert service.manage("backup").startswith(f"Copied to {service.folder}/backup/")
    [copy] = copies(service)
    assert (copy / "files" / "drawing.txt").read_text() == "tongs"
    about = json.loads((copy / "about.json").read_text())
    assert (about["shop"], about["movements"]) == ("Invented Forge", 1)

    service.python(ADD)
    (service.folder / "files" / "drawing.txt").write_text("spoiled")
    (service.folder / "secret_key").write_text("another key")
    said = service.manage("restore", str(copy), "--yes")

    assert "The book agrees with its movements." in said
    assert (service.folder / "files" / "drawing.txt").read_text() == "tongs"
    assert (service.folder / "secret_key").read_text() == key
    [aside] = service.folder.glob("before-restore-*")
    assert str(aside) in said
    assert (aside / "files" / "drawing.txt").read_text() == "spoiled"
    assert (aside / "secret_key").read_text() == "another key"
    if database == "sqlite":
        with closing(sqlite3.connect(aside / "bickern.sqlite3")) as old:
            assert old.execute("SELECT count(*) FROM inventory_item WHERE code = 'LATER'").fetchone() == (1,)
    else:
        assert "_before" in said
    assert not list(service.folder.glob(".restoring-*"))
    goes_on = f"{CODES}; {ADD}; from shop.flows import checking; assert checking.check_book(whole=True) == []"
    assert json.loads(service.python(goes_on)) == ["KEPT"]


def test_a_copy_of_a_shop_on_one_file_is_itself_a_data_folder(shop):
    shop.manage("backup")
    [copy] = copies(shop)
    assert {path.name for path in copy.iterdir()} == {"bickern.sqlite3", "files", "secret_key", "about.json"}
    assert copy.stat().st_mode & 0o077 == 0
    shop._settings["BICKERN_DATA"] = str(copy)
    assert codes(shop) == ["KEPT"]


def test_a_copy_made_while_others_write_is_whole_and_balances(shop):
    command = [processes.manage()[0], "-P", "-c", f"import django; django.setup()\n{WRITER}"]
    writer = subprocess.Popen(command, cwd=ROOT, env=shop._settings)
    try:
        wait_until(lambda: rows(shop.folder / "bickern.sqlite3") > 5, "the first writes")
        before = rows(shop.folder / "bickern.sqlite3")
        shop.manage("backup")  # refuses where the copy is not whole, ends with 1 where its book does not balance
        after = rows(shop.folder / "bickern.sqlite3")
    finally:
        writer.kill()
        writer.wait()
    assert before <= rows(copies(shop)[0] / "bickern.sqlite3") <= after
    assert after > before


def rows(file):
    with closing(sqlite3.connect(file, timeout=10)) as book:
        return book.execute("SELECT count(*) FROM inventory_movement").fetchone()[0]


def test_a_copy_broken_off_leaves_no_half_copy_and_the_next_one_cleans_up(shop):
    home = shop.folder / "backup"
    with (shop.folder / "files" / "large").open("wb") as large:
        large.truncate(300_000_000)
    maker = subprocess.Popen(processes.manage("backup"), cwd=ROOT, env=shop._settings, start_new_session=True)
    wait_until(lambda: list(home.glob(".making-*/files")), "the copy being made")
    os.killpg(maker.pid, signal.SIGKILL)
    maker.wait()
    assert copies(shop) == []
    assert list(home.glob(".making-*"))
    (shop.folder / "files" / "large").unlink()
    shop.manage("backup")
    assert len(copies(shop)) == 1
    assert not list(home.glob(".making-*"))


def test_a_copy_that_everybody_could_read_is_brought_back_for_the_shop_alone(shop):
    shop.manage("backup")
    [copy] = copies(shop)
    for kept in ("bickern.sqlite3", "secret_key"):
        (copy / kept).chmod(0o755)
    shop.manage("restore", str(copy), "--yes")
    for kept in ("bickern.sqlite3", "secret_key"):
        assert (shop.folder / kept).stat().st_mode & 0o777 == 0o600


def test_what_must_not_be_restored_changes_nothing(shop, tmp_path):
    shop.manage("backup")
    [copy] = copies(shop)
    shop.python(ADD)
    before = (shop.folder / "bickern.sqlite3").read_bytes()
    book = copy / "bickern.sqlite3"
    with closing(sqlite3.connect(shop.folder / "bickern.sqlite3")) as other:
        other.execute("SELECT count(*) FROM inventory_item").fetchone()
        assert "The service is running on this data; stop it first" in refused(shop, "restore", str(copy), "--yes")
    with places.alone(shop.folder / "run" / "lock", ""):
        assert "The service is running on this data; stop it first" in refused(shop, "restore", str(copy), "--yes")
    assert "Nothing was changed." in refused(shop, "restore", str(copy), said="no\n")
    whole = book.read_bytes()
    book.write_bytes(whole[:40_000] + b"\0" * 40_000 + whole[80_000:])
    assert re.search("is not whole|does not open", refused(shop, "restore", str(copy), "--yes"))
    book.write_bytes(b"nothing of a book")
    assert "does not open" in refused(shop, "restore", str(copy), "--yes")
    book.write_bytes(whole)
    for link in (copy / "files" / "other.pdf", copy / "files" / "folder"):
        link.symlink_to(tmp_path)
        told = refused(shop, "restore", str(copy), "--yes")
        assert f"The copy holds a link, {link.relative_to(copy)}; take it out" in told
        link.unlink()
    assert "is no copy of a shop" in refused(shop, "restore", str(tmp_path), "--yes")
    assert (shop.folder / "bickern.sqlite3").read_bytes() == before
    assert not list(shop.folder.glob("before-restore-*"))


# Without processes


@pytest.fixture
def here(settings, tmp_path, monkeypatch, db):
    """Copies of the test database into a folder of this test; the check of the copy's book has its own tests above."""
    settings.BACKUP_FOLDER = tmp_path / "backup"
    settings.DATA = tmp_path / "data"
    settings.MEDIA_ROOT = tmp_path / "data" / "files"
    settings.BACKUP_KEEP = 2
    settings.DATA.mkdir()
    monkeypatch.setattr(programs, "check_book", lambda _extra: (None, ""))
    monkeypatch.setattr(databases, "copy", lambda folder: (folder / "bickern.sqlite3").write_bytes(b""))
    monkeypatch.setattr(databases, "verify", lambda _folder, _database: None)
    return tmp_path / "backup"


def test_only_the_newest_copies_are_kept_and_two_of_one_minute_do_not_meet(here):
    made = [backup.make(at=AT) for _ in range(3)]
    assert [done.folder.name for done in made] == ["2026-03-02-0900", "2026-03-02-0900-2", "2026-03-02-0900-3"]
    assert places.copies(here) == [made[1].folder, made[2].folder]
    assert made[2].removed == (made[0].folder,)


def test_a_folder_that_cannot_be_written_is_one_sentence(here, settings, tmp_path):
    (tmp_path / "plain").write_text("a file")
    settings.BACKUP_FOLDER = tmp_path / "plain" / "backup"
    with pytest.raises(Refusal, match=r"The copy could not be written to .*: Not a directory"):
        backup.make(at=AT)


def test_a_disk_that_is_full_leaves_nothing_behind(here, monkeypatch):
    def full(_folder):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(databases, "copy", full)
    with pytest.raises(Refusal, match="No space left on device"):
        backup.make(at=AT)
    assert [path.name for path in here.iterdir()] == [".lock"]


def test_two_copies_are_not_made_at_once(here):
    here.mkdir()
    with places.alone(here / ".lock", ""), pytest.raises(Refusal, match="A copy is being made"):
        backup.make(at=AT)


def test_a_copy_of_the_other_database_or_of_a_newer_version_is_refused(here):
    other = "postgresql" if databases.kind() == "sqlite" else "sqlite"
    about = places.About(AT.isoformat(), "Invented Forge", other, 0, [])
    with pytest.raises(Refusal, match=f"holds a {other} database"):
        restoring._fits(about)
    newer = places.About(
        AT.isoformat(), "Invented Forge", databases.kind(), 0, ["inventory.0001_first_tables", "inventory.9999_x"]
    )
    with pytest.raises(Refusal, match=r"A newer version made this copy \(inventory.9999_x\)"):
        restoring._fits(newer)


def test_the_nights_job_says_when_the_copied_book_does_not_balance(here, monkeypatch, caplog):
    monkeypatch.setattr(programs, "check_book", lambda _extra: (False, "Item KEPT differs."))
    making.nightly({}, AT)
    assert "Item KEPT differs." in caplog.text
    assert len(places.copies(here)) == 1


def test_without_postgresqls_programs_one_sentence_says_what_is_missing(monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _name: None)
    with pytest.raises(Refusal, match="pg_dump is not on this machine"):
        databases.run("pg_dump")

"""Migrations match the models; the test database keeps the book append-only like the shop's own."""

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.db.migrations.loader import MigrationLoader

from shop.shared import append_only
from shop.shared.models import AuditLine


@pytest.mark.django_db
def test_the_migrations_make_exactly_the_tables_of_the_models() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_every_app_has_one_last_migration() -> None:
    loader = MigrationLoader(None)
    assert loader.detect_conflicts() == {}
    own = {
        config.label
        for config in apps.get_app_configs()
        if config.name.split(".")[0] in {"shop", "inventory", "orders"}
    }
    assert {app for app, _ in loader.disk_migrations} >= {"inventory", "orders", "shared", "access"} & own


@pytest.mark.django_db
def test_the_triggers_stand_in_the_test_database() -> None:
    assert append_only.wanted() <= append_only.present()


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("time", ["first", "second"])
def test_the_triggers_hold_and_still_let_a_test_leave_an_empty_book(time: str) -> None:
    from shop.shared import clock

    assert not AuditLine.objects.exists(), time
    AuditLine.objects.create(at=clock.now(), by="test", action="try", subject="row")
    with pytest.raises(DatabaseError), transaction.atomic():
        AuditLine.objects.all().delete()
    with pytest.raises(DatabaseError), transaction.atomic():
        AuditLine.objects.update(action="other")
    assert AuditLine.objects.get().action == "try"
    assert append_only.wanted() <= append_only.present()


@pytest.mark.django_db
def test_sqlite_is_set_up_as_in_the_shop() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("this is about the SQLite file")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode")
        assert cursor.fetchone() == ("wal",)
        cursor.execute("PRAGMA foreign_keys")
        assert cursor.fetchone() == (1,)

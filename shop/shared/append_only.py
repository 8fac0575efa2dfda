"""Database triggers that refuse to change or delete rows of the append-only tables.

SQLite drops a table's triggers whenever Django rebuilds the table, so `ensure` runs after every migrate.
"""

from django.db import connection

# table -> columns that may still be written (the audit chain is sealed afterwards by a job)
TABLES: dict[str, tuple[str, ...]] = {
    "inventory_entry": (),
    "inventory_movement": (),
    "orders_money": (),
    "orders_promise": (),
    "orders_promisebasis": (),
    "shared_auditline": ("seal",),
}
_FUNCTION = "bickern_append_only"


def _columns(table: str) -> list[str]:
    with connection.cursor() as cursor:
        names = [column.name for column in connection.introspection.get_table_description(cursor, table)]
    return [f'"{name}"' for name in names if name not in TABLES[table]]


def _statements(table: str) -> list[str]:
    columns = ", ".join(_columns(table))
    if connection.vendor == "sqlite":
        sentence = f"SELECT RAISE(ABORT, '{table} is append-only');"
        return [
            f"CREATE TRIGGER IF NOT EXISTS {table}_no_update BEFORE UPDATE OF {columns} ON {table} BEGIN {sentence} END",
            f"CREATE TRIGGER IF NOT EXISTS {table}_no_delete BEFORE DELETE ON {table} BEGIN {sentence} END",
        ]
    execute = f"EXECUTE FUNCTION {_FUNCTION}()"
    update, delete = f"{table}_no_update", f"{table}_no_delete"
    return [
        f"CREATE OR REPLACE TRIGGER {update} BEFORE UPDATE OF {columns} ON {table} FOR EACH ROW {execute}",
        f"CREATE OR REPLACE TRIGGER {delete} BEFORE DELETE OR TRUNCATE ON {table} FOR EACH STATEMENT {execute}",
    ]


def ensure() -> None:
    """Create every trigger that is missing."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                f"CREATE OR REPLACE FUNCTION {_FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS "
                "$$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation'; END $$"
            )
        for table in TABLES:
            for statement in _statements(table):
                cursor.execute(statement)


def drop() -> None:
    """Drop every trigger; only the test reset and a restore may."""
    with connection.cursor() as cursor:
        for table in TABLES:
            for name in (f"{table}_no_update", f"{table}_no_delete"):
                on = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def present() -> set[str]:
    """Return the names of the triggers that stand in the database."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        return {row[0] for row in cursor.fetchall()}


def wanted() -> set[str]:
    """Return the names of the triggers that must stand there."""
    return {f"{table}_{what}" for table in TABLES for what in ("no_update", "no_delete")}

"""Bring a copy back; what is there now is kept aside."""

from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from shop.flows import backup
from shop.shared import clock
from shop.shared.errors import Refusal


class Command(BaseCommand):
    help = (
        "Replace database, files and key by those of a copy; the old ones are kept aside. The service must be stopped."
    )
    requires_system_checks = ()
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the copy's folder and the answer to the question."""
        parser.add_argument("path", type=Path, help="folder of the copy, such as .data/backup/2026-11-26-0601")
        parser.add_argument("--yes", action="store_true", help="do not ask")

    def handle(self, *args: object, **options: object) -> None:
        """Ask, restore, say where the old state lies."""
        folder = Path(str(options["path"])).expanduser().resolve()
        if not options["yes"] and input(f"Replace the shop's data by {folder}? Write yes: ").strip().lower() != "yes":
            raise CommandError("Nothing was changed.")
        try:
            done = backup.restore(folder, at=clock.now())
        except Refusal as exc:
            raise CommandError(exc.sentence) from exc
        self.stdout.write(f"Restored the copy of {done.made_at}. What was there before lies in {done.aside}.")
        if done.said:
            self.stdout.write(done.said)
        if done.balances is False:
            raise CommandError("The copy is restored, but its book does not balance; the lines above say where.")

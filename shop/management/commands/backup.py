"""Make a dated copy of everything kept, now."""

from django.core.management.base import BaseCommand, CommandError

from shop.flows import backup
from shop.shared import clock
from shop.shared.errors import Refusal


class Command(BaseCommand):
    help = "Make a dated copy of database, files and key in the backup folder, and check it."
    requires_system_checks = ()

    def handle(self, *args: object, **options: object) -> None:
        """Make it and say where it lies."""
        try:
            made = backup.make(at=clock.now())
        except Refusal as exc:
            raise CommandError(exc.sentence) from exc
        self.stdout.write(f"Copied to {made.folder}.")
        if made.said:
            self.stdout.write(made.said)
        for folder in made.removed:
            self.stdout.write(f"Removed the old copy {folder.name}.")
        if made.balances is False:
            raise CommandError("The copy is made, but the book in it does not balance; the lines above say where.")

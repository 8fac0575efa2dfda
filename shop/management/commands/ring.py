"""Do once, here and now, what the timetable has the worker do every minute."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError

from shop.flows import ringing
from shop.shared import clock


class Command(BaseCommand):
    help = "Do once what the timetable has the worker do every minute."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the number of rounds."""
        parser.add_argument("--times", type=int, default=1, help="how many rounds, one after the other (1)")

    def handle(self, *args: object, **options: object) -> None:
        """Ring."""
        for _ in range(int(str(options["times"]))):
            failed = ringing.ring(clock.now)
            if failed:
                raise CommandError(f"Not everything could be done: {', '.join(failed)}; the lines above say why.")

"""Recompute the book from its movements and exit 1 on any difference, naming the row."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from shop.flows import checking


class Command(BaseCommand):
    help = "Recompute every counter from the movements; exit 1 and name the row where one differs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add how far back to read."""
        parser.add_argument(
            "--since-close",
            action="store_true",
            help="read the movements since the last month was closed only, as the night does (all of them)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Print each difference, or that there is none."""
        found = checking.check_book(whole=not options["since_close"])
        for sentence in found:
            self.stdout.write(sentence)
        if found:
            self.stdout.write(f"{len(found)} {'difference' if len(found) == 1 else 'differences'}.")
            sys.exit(1)
        self.stdout.write("The book agrees with its movements.")

"""Recompute the book from its movements and exit 1 on any difference, naming the row."""

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from shop.flows import checking


class Command(BaseCommand):
    help = "Recompute every counter from the movements; exit 1 and name the row where one differs."

    def handle(self, *args: Any, **options: Any) -> None:
        with transaction.atomic():  # one snapshot of the book
            found = checking.check_book()
        for sentence in found:
            self.stdout.write(sentence)
        if found:
            self.stdout.write(f"{len(found)} differences.")
            sys.exit(1)
        self.stdout.write("The book agrees with its movements.")

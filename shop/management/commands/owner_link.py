"""Print the one-time link that makes the owner of an empty shop."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shop.access.services import links
from shop.shared import clock
from shop.shared.errors import Refusal
from shop.shared.transactions import entry_point


class Command(BaseCommand):
    """Prints the address; it works once and ends after a day. Links printed before it no longer work."""

    help = "Print a link that makes the owner of a shop that has none. It works once, within 24 hours."

    def handle(self, *args: Any, **options: Any) -> None:
        """Make the link and print it alone on its line, so that a script can read it."""
        try:
            with entry_point():
                address = links.make_owner_link(at=clock.now())
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(address)

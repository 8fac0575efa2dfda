"""Load the invented shop into an empty database and print its log-ins and its API key; progress goes to the error stream."""

import secrets
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.demo import load
from shop.shared import bell, clock
from shop.shared.errors import Refusal

_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"


def new_password() -> str:
    """Return a password that can be read off a screen and typed on a tablet: 60 random bits in three groups."""
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3))


class Command(BaseCommand):
    help = "Load the invented shop, two years that end yesterday; refused where a shop exists."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--days", type=int, default=settings.DEMO_DAYS, help="how many days to make up")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with bell.quiet():
                loaded = load.load(
                    now=clock.now(), new_password=new_password, days=options["days"], say=self.stderr.write
                )
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        for login in loaded.logins:
            self.stdout.write(f"Log in as {login.login} ({login.role}) with {login.password}")
        self.stdout.write(f"API key: {loaded.key}")

"""Make a person from the command line, for instance an owner where the last owner's password is lost."""

import getpass
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.access.models import Role
from shop.access.services import passwords, people
from shop.shared import clock
from shop.shared.errors import Refusal
from shop.shared.transactions import entry_point


class Command(BaseCommand):
    """Asks for the password, or reads it from standard input; never from the command line, which others can see."""

    help = "Make a person. The password is asked for or read from standard input; a hand may have none (--no-password)."

    def add_arguments(self, parser: CommandParser) -> None:
        """Read login, name, role."""
        parser.add_argument("login")
        parser.add_argument("--name", default="")
        parser.add_argument("--role", choices=Role.values, default=Role.HAND)
        parser.add_argument("--no-password", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        """Make the person."""
        login, name = options["login"], options["name"] or options["login"]
        try:
            kept = None if options["no_password"] else passwords.prepare(_password(), login=login, name=name)
            with entry_point():
                person = people.make(
                    login=login,
                    particulars=people.Particulars(name, options["role"]),
                    password_kept=kept,
                    at=clock.now(),
                    by=None,
                )
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(f"{person.name} can come in as {person.login} ({person.role}).")


def _password() -> str:
    return getpass.getpass("Password: ") if sys.stdin.isatty() else sys.stdin.readline().rstrip("\n")

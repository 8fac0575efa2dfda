"""Print the night's message of any day; sends nothing and keeps nothing."""

import datetime as dt
from argparse import ArgumentParser, ArgumentTypeError

from django.core.management.base import BaseCommand, CommandError

from shop.flows import night
from shop.shared import clock, shop_row
from shop.shared.errors import Refusal
from shop.shared.mail import outbox
from shop.shared.models import NightResult


class Command(BaseCommand):
    help = "Print the night's message of any day without sending it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the day and the form."""
        parser.add_argument("--date", type=_day, help="the shop's day, YYYY-MM-DD (today)")
        parser.add_argument("--html", action="store_true", help="print the HTML part instead of the text")

    def handle(self, *args: object, **options: object) -> None:
        """Print it; what is not part of the message goes to standard error."""
        try:
            shop = shop_row.the_shop()
        except Refusal as exc:
            raise CommandError(exc.sentence) from exc
        at = clock.now()
        asked = options["date"]
        day = asked if isinstance(asked, dt.date) else clock.local_date(at, shop.zone)
        kept = NightResult.objects.filter(local_date=day).first()
        if kept is None:
            self.stderr.write(f"No result is kept for {day}; this is worked out from the book as it stands now.\n\n")
        said = night.render(kept.body if kept else night.compute(at=at, today=day))
        if options["html"]:
            self.stdout.write(said.html, ending="")
        else:
            self.stdout.write(f"Subject: {said.subject}\n\n{said.text}", ending="")
        if waits := outbox.sentence():
            self.stderr.write(f"\n{waits}")


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as exc:
        raise ArgumentTypeError(f"{text!r} is no day; write it as 2026-11-26.") from exc

"""Work days given out again from what they were based on; exit 1 where one comes out otherwise."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from orders.queries import days_again


class Command(BaseCommand):
    help = "Work days given out again from what each was based on; exit 1 and name the order where one differs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add of which order."""
        parser.add_argument("--order", type=int, help="the number of an order (all of them)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print each that differs, those that cannot be asked again, and how many come out the same."""
        same = differ = 0
        for one in days_again.worked_out(options["order"]):
            name = f"Order {one.promise.order.number}, promise {one.promise.pk}"
            if one.now is None:
                self.stdout.write(f"{name}: not asked again, {one.why}.")
            elif one.same:
                same += 1
            else:
                differ += 1
                self.stdout.write(f"{name}: {one.promise.chance_ppm} in a million was stated, {one.now} comes out.")
        if differ:
            sys.exit(1)
        one_day = same == 1
        self.stdout.write(
            f"{same} {'day' if one_day else 'days'} given {'is' if one_day else 'are'} worked out again and"
            f" {'comes' if one_day else 'come'} out the same."
        )

"""Put back what a migration may have dropped: the append-only triggers, and the places and grades every shop begins with."""

from django.core.management.base import BaseCommand

from inventory.services import catalogue, grade_book
from shop.shared import append_only, transactions


class Command(BaseCommand):
    help = "Ensure the append-only triggers, the standard places and a grade book; run after every migrate."

    def handle(self, *args: object, **options: object) -> None:
        append_only.ensure()
        with transactions.entry_point():
            catalogue.ensure_places()
            grade_book.seed()

"""Put back what a migration may have dropped: the append-only triggers, and the places every shop has."""

from django.core.management.base import BaseCommand

from inventory.services import catalogue
from shop.shared import append_only, transactions


class Command(BaseCommand):
    help = "Ensure the append-only triggers and the standard places; run after every migrate."

    def handle(self, *args: object, **options: object) -> None:
        append_only.ensure()
        with transactions.entry_point():
            catalogue.ensure_places()

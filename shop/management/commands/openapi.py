"""Writes the description of the API that is kept beside its code."""

from typing import Any

from django.core.management.base import BaseCommand

from shop.api import describe


class Command(BaseCommand):
    """`manage.py openapi` writes shop/api/openapi.json anew."""

    help = "Write shop/api/openapi.json anew from the code of the API."

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the file."""
        describe.FILE.write_text(describe.text(), encoding="utf-8")
        self.stdout.write(f"{describe.FILE.name} written, {len(describe.document()['paths'])} addresses.")

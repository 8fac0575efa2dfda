#!/usr/bin/env python
"""Run a command of the service: check_book, show_night, load_demo, backup, restore and Django's own."""

import os
import sys

from django.core.management import execute_from_command_line


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings.base")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()

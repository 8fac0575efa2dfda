"""Runs management commands in a process of their own, with other settings than this one has."""

import os
import subprocess
import sys
from collections.abc import Mapping

from django.conf import settings
from django.core.management import get_commands

from shop.flows.backup.places import CopyFailed


def check_book(extra: Mapping[str, str]) -> tuple[bool | None, str]:
    """Check a book; return whether it balances (None where this version has no such check) and what was said."""
    if "check_book" not in get_commands():
        return None, ""
    done = _manage(extra, "check_book")
    return done.returncode == 0, (done.stdout + done.stderr).strip()


def bring_up_to_date(extra: Mapping[str, str]) -> None:
    """Bring a database to the tables of this version."""
    for words in (("migrate", "--no-input", "--verbosity", "0"), ("after_migrate",)):
        done = _manage(extra, *words)
        if done.returncode:
            raise CopyFailed(f"The restored database could not be brought up to date: {done.stderr.strip()[-500:]}")


def _manage(extra: Mapping[str, str], *words: str) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, str(settings.ROOT / "manage.py"), *words]
    return subprocess.run(command, env={**os.environ, **extra}, capture_output=True, text=True, check=False)

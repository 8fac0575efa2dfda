"""Runs management commands in a process of their own, with other settings than this one has."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping

from django.conf import settings
from django.core.management import get_commands

from shop.flows.backup.places import CopyFailed

# As manage.py does, without the checks of the code, which the running service has passed.
_CALL = """
import json, sys, django
from django.core.management import CommandError, call_command
django.setup()
try:
    for words in json.loads(sys.argv[1]):
        call_command(*words)
except CommandError as exc:
    sys.exit(str(exc))
"""


def check_book(extra: Mapping[str, str]) -> tuple[bool | None, str]:
    """Check a whole book; return whether it balances (None where this version has no such check) and what was said."""
    if "check_book" not in get_commands():
        return None, ""
    done = _call(extra, ["check_book"])
    return done.returncode == 0, (done.stdout + done.stderr).strip()


def bring_up_to_date(extra: Mapping[str, str]) -> None:
    """Bring a database to the tables of this version."""
    done = _call(extra, ["migrate", "--no-input", "--verbosity", "0"], ["after_migrate"])
    if done.returncode:
        raise CopyFailed(f"The restored database could not be brought up to date: {done.stderr.strip()[-500:]}")


def _call(extra: Mapping[str, str], *commands: list[str]) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", _CALL, json.dumps(commands)],
        cwd=settings.ROOT,
        env={**os.environ, **extra},
        capture_output=True,
        text=True,
        check=False,
    )

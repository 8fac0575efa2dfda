"""Tries to log in, counted in the database per log-in name and per address, so that it holds across processes.

A try is taken *before* the password is looked at, by one conditional UPDATE: guesses sent side by side cannot all get in
under the limit. Nobody is locked out for good; a window ends by itself.
"""

import datetime as dt
import hashlib
import math

from django.db.models import F

from shop.access.models import LoginFailure
from shop.shared import transactions
from shop.shared.errors import Refusal

WINDOW = dt.timedelta(minutes=15)
PER_LOGIN = 10
PER_ADDRESS = 50
_FORGET_AFTER = dt.timedelta(days=1)


class TooManyTries(Refusal):
    """Too many wrong passwords lately."""

    code = "too_many_tries"
    status = 429


def take(login: str, address: str, *, at: dt.datetime) -> None:
    """Take one try for a log-in name from an address, or refuse it for the rest of the window."""
    transactions.assert_open()
    # The address first and always: a flood of made-up names is stopped by it and leaves few rows.
    for who, limit in ((_address(address), PER_ADDRESS), (_login(login), PER_LOGIN)):
        if not _one_more(who, limit, at):
            raise _refused(who, at)


def give_back(login: str, address: str) -> None:
    """After a right password: the log-in's count starts anew and the address gets this one try back."""
    transactions.assert_open()
    LoginFailure.objects.filter(who=_address(address), failures__gt=0).update(failures=F("failures") - 1)
    LoginFailure.objects.filter(who=_login(login)).update(failures=0)


def forget(*, at: dt.datetime) -> int:
    """Delete the counts of yesterday and before; rows that a log-in holds at this moment are left for the next time."""
    transactions.assert_open()
    old = LoginFailure.objects.filter(window_started_at__lt=at - _FORGET_AFTER)
    free = list(old.select_for_update(skip_locked=True).values_list("pk", flat=True)[:1000])
    return LoginFailure.objects.filter(pk__in=free).delete()[0]


def _one_more(who: str, limit: int, at: dt.datetime) -> bool:
    row = LoginFailure.objects.filter(who=who)
    running = row.filter(window_started_at__gt=at - WINDOW)
    if running.filter(failures__lt=limit).update(failures=F("failures") + 1):
        return True
    if row.filter(window_started_at__lte=at - WINDOW).update(failures=1, window_started_at=at):
        return True
    LoginFailure.objects.bulk_create([LoginFailure(who=who, failures=0, window_started_at=at)], ignore_conflicts=True)
    return bool(running.filter(failures__lt=limit).update(failures=F("failures") + 1))


def _refused(who: str, at: dt.datetime) -> TooManyTries:
    started = LoginFailure.objects.values_list("window_started_at", flat=True).get(who=who)
    minutes = max(1, math.ceil((started + WINDOW - at).total_seconds() / 60))
    whose = "with this log-in" if who.startswith("login ") else "from this address"
    return TooManyTries(
        f"Too many tries {whose}. Wait {minutes} minute{'' if minutes == 1 else 's'}, then try again.",
        facts={"wait_seconds": minutes * 60},
    )


def _login(login: str) -> str:
    # Whatever somebody types is bounded, and two spellings of one name are one name.
    return "login " + hashlib.sha256(login.strip().lower().encode("utf-8", "surrogatepass")).hexdigest()


def _address(address: str) -> str:
    return f"address {address or 'unknown'}"[:100]

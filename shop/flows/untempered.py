"""Hardened and not in the temper within the set time or at closing: a message to those who get the night's."""

import datetime as dt
from collections.abc import Sequence

from inventory.models import OvenLoad
from inventory.queries import hard
from inventory.queries.hard import Hard
from shop.flows.night import words
from shop.flows.night.body import path
from shop.shared import clock, jobs, shop_row, transactions
from shop.shared.jobs import Payload
from shop.shared.mail import outbox

JOB = "untempered"


def watch(load: OvenLoad) -> None:
    """Look again when the pieces of a hardening have to be in the temper: their time is over, or the shop closes."""
    still = _of(load)
    if still:
        due = _due(load, still)
        # The time is part of the key: another one is due where the hours of the shop change meanwhile.
        key = f"{load.number} by {due.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%S}"
        jobs.add(JOB, key, due, {"load": load.number})


def watch_again() -> None:
    """Look at the new time after all that stands hardened: the hours of the shop have changed."""
    transactions.assert_open()
    for load in sorted({one.load for one in hard.standing() if one.load}, key=lambda load: load.number):
        watch(load)


def work(payload: Payload, at: dt.datetime) -> None:
    """Write the message where pieces of the load still stand hardened and their time is over."""
    load = OvenLoad.objects.get(number=payload["load"])
    still = _of(load)
    if not still:
        return
    due = _due(load, still)
    with transactions.entry_point():
        if due <= at:
            _write(load, still, due, at)
        else:
            watch(load)


def _of(load: OvenLoad) -> list[Hard]:
    return [one for one in hard.standing() if one.load == load]


def _due(load: OvenLoad, still: Sequence[Hard]) -> dt.datetime:
    hours = shop_row.hours(load.in_at)
    return min(hard.temper_by(one.step, load.in_at, hours) for one in still)


def _write(load: OvenLoad, still: Sequence[Hard], due: dt.datetime, at: dt.datetime) -> None:
    shop = shop_row.the_shop()
    by_run: dict[str, int] = {}
    for one in still:
        by_run[one.run.code] = by_run.get(one.run.code, 0) + one.qty
    names = ", ".join(f"{qty} of run {code}" for code, qty in by_run.items())
    text = (
        f"{names} were to be in the temper by {words.hour(due, shop.zone)}.\n"
        "Glass-hard: do not strike, drop, haft or send. Load the oven.\n"
        f"{path('staff:floor_oven', otherwise='staff:floor')}\n"
    )
    html = "".join(f"<p>{line}</p>" for line in text.strip().split("\n"))
    for recipient in shop_row.active_recipients():
        outbox.write(
            kind=f"temper{load.number}", local_date=clock.local_date(at, shop.zone), recipient=recipient.email,
            subject=f"Hard and not tempered: {names}", text=text, html=html, at=at,
        )  # fmt: skip

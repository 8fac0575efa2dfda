"""Hardened and not in the temper within the set time: a message to those who get the night's."""

import datetime as dt

from inventory.models import OvenLoad, Step
from inventory.queries import runs
from shop.flows.night import words
from shop.flows.night.body import path
from shop.shared import clock, jobs, shop_row, transactions
from shop.shared.jobs import Payload
from shop.shared.mail import outbox

JOB = "untempered"
USUAL_MINUTES = 120


def watch(load: OvenLoad) -> None:
    """Look again when the time is over by which the pieces of a hardening have to be in the temper."""
    steps = [held.step for held in load.lots.select_related("step")]
    minutes = min(
        (step.within_minutes or USUAL_MINUTES for step in steps if step.work == Step.Work.HARDEN), default=USUAL_MINUTES
    )
    jobs.add(JOB, str(load.number), load.in_at + dt.timedelta(minutes=minutes), {"load": load.number})


def work(payload: Payload, at: dt.datetime) -> None:
    """Write the message where pieces of the load still stand hardened and untempered."""
    lots = OvenLoad.objects.get(number=payload["load"]).lots.values_list("lot__run__code", flat=True)
    still = [(row, one, by) for row, one, by in runs.untempered(at=at) if row.run.code in set(lots)]
    if not still:
        return
    shop = shop_row.the_shop()
    names = ", ".join(f"{one.qty} of run {row.run.code}" for row, one, _ in still)
    subject = f"Hard and not tempered: {names}"
    text = (
        f"{names} were to be in the temper by {words.hour(still[0][2], shop.zone)}.\n"
        "Glass-hard: do not strike, drop, haft or send. Load the oven.\n"
        f"{path('staff:floor_oven', otherwise='staff:floor')}\n"
    )
    html = "".join(f"<p>{line}</p>" for line in text.strip().split("\n"))
    with transactions.entry_point():
        for recipient in shop_row.active_recipients():
            outbox.write(
                kind=f"temper{payload['load']}", local_date=clock.local_date(at, shop.zone), recipient=recipient.email,
                subject=subject, text=text, html=html, at=at,
            )  # fmt: skip

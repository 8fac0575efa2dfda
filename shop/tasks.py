"""The Celery tasks. They carry no facts: what is due stands in the database, a task only says that it is time to look."""

from shop.celery import app
from shop.flows import ringing
from shop.shared import clock


@app.task(name="shop.tasks.ring")
def ring() -> None:
    """Do all that is due; rung every minute."""
    ringing.ring(clock.now)


@app.task(name="shop.tasks.nudged")
def nudged() -> None:
    """Look for what has just been committed; rung by whoever committed it."""
    ringing.nudged(clock.now)

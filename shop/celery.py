"""The Celery application and its timetable; the broker only rings the bell, what must be done stands in the database."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings.base")

app = Celery("bickern")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.update(
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    accept_content=["json"],
    task_serializer="json",
    timezone="UTC",
    broker_connection_retry_on_startup=True,
    # The sweep of unacknowledged messages runs every interval x throttle seconds; the default took 100 s after a killed worker.
    broker_transport_options={
        "visibility_timeout": 1800,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
    },
    beat_schedule={
        "ring-every-minute": {"task": "shop.tasks.ring", "schedule": 60.0, "options": {"expires": 55}},
    },
    imports=["shop.tasks"],
)

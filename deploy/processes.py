"""The command lines and the environment of the service's processes; the tests start the same ones."""

import os
from collections.abc import Mapping
from pathlib import Path

from deploy.environment import PYTHON, ROOT


def environment(data: Path, broker_url: str, extra: Mapping[str, str]) -> dict[str, str]:
    """Return the variables that every process of one service shares."""
    return {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "PYTHONUNBUFFERED": "1",
        "DJANGO_SETTINGS_MODULE": "shop.settings.base",
        "BICKERN_DATA": str(data),
        "BICKERN_BROKER_URL": broker_url,
        **extra,
    }


def web(port: int, host: str = "0.0.0.0") -> list[str]:  # noqa: S104 - tablets reach it over the shop's network
    """Return the web server."""
    return [str(PYTHON), "-P", "-m", "deploy.web", "--host", host, "--port", str(port)]


def worker(name: str = "worker") -> list[str]:
    """Return the Celery worker; it talks to no other worker, so the chatter between workers is left out."""
    return [
        *(str(PYTHON), "-m", "celery", "--app", "shop.celery", "--quiet", "worker", "--hostname", f"{name}@%h"),
        *("--concurrency", "2", "--loglevel", "WARNING", "--without-gossip", "--without-mingle"),
    ]


def beat(run_folder: Path, name: str = "beat") -> list[str]:
    """Return the timetable's process; its schedule file only says when each entry rang last."""
    return [
        *(str(PYTHON), "-m", "celery", "--app", "shop.celery", "--quiet", "beat", "--loglevel", "WARNING"),
        *("--schedule", str(run_folder / f"{name}-schedule"), "--pidfile", ""),
    ]


def manage(*words: str) -> list[str]:
    """Return a management command."""
    return [str(PYTHON), str(ROOT / "manage.py"), *words]

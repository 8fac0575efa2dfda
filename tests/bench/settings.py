"""Settings of the benches: those of the shop, with the floor's addresses beside the service's own."""

from shop.settings.base import *  # noqa: F403 - a settings module is a namespace

ROOT_URLCONF = "tests.bench.urls"

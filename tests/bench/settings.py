"""Settings of the benches: those of the shop, with the floor's addresses beside the service's own."""

from shop.settings.base import *

ROOT_URLCONF = "tests.bench.urls"

"""Settings of the test runs: cheap password hashing, nothing else different from the real ones."""

from shop.settings.base import *  # noqa: F403 - a settings module is a namespace

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

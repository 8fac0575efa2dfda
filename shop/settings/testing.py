"""Settings of the test runs: a data folder that is thrown away, cheap password hashing, no waiting for the disk."""

import atexit
import os
import shutil
import tempfile
from typing import Any

_folder = tempfile.mkdtemp(prefix="bickern-test-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["BICKERN_DATA"] = _folder

from shop.settings.base import *  # noqa: E402 - a settings module is a namespace
from shop.settings.base import DATA, DATABASES  # noqa: E402 - after the folder is set

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

_database: dict[str, Any] = DATABASES["default"]
if "sqlite3" in _database["ENGINE"]:
    # A file as in the shop, because threads would share one connection to a database in memory.
    _database["TEST"] = {"NAME": str(DATA / "test.sqlite3")}
    # Nobody pulls the plug of a test: FULL would wait for the disk at every commit.
    _database["OPTIONS"]["init_command"] = _database["OPTIONS"]["init_command"].replace("FULL", "OFF")

"""deploy/env.example lists every setting, and none that nothing reads."""

import ast
import os
import re
import subprocess
from pathlib import Path

from deploy.environment import PYTHON, ROOT

READERS = {"text", "whole", "yes", "words", "folder", "database"}


def read_settings() -> set[str]:
    """Return the names that the settings modules read through the typed readers."""
    names = set()
    for path in (ROOT / "shop" / "settings").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in READERS:
                first = node.args[0] if node.args else None
                if (
                    isinstance(first, ast.Constant)
                    and isinstance(node.func.value, ast.Name)
                    and node.func.value.id == "env"
                ):
                    names.add(str(first.value))
    return names


def listed_settings() -> set[str]:
    """Return the names that deploy/env.example gives."""
    return set(re.findall(r"^([A-Z_]+)=", (ROOT / "deploy" / "env.example").read_text("utf-8"), re.MULTILINE))


def test_every_setting_is_listed_and_every_listed_one_is_read() -> None:
    assert len(read_settings()) > 15
    assert listed_settings() == read_settings()


def test_only_the_readers_touch_the_environment() -> None:
    for folder in ("shop", "inventory", "orders"):
        for path in (ROOT / folder).rglob("*.py"):
            if path.name == "env.py":
                continue
            text = path.read_text("utf-8")
            touched = set(re.findall(r"environ(?:\.get\(|\.setdefault\(|\[)\s*\"([A-Z_]+)\"", text)) | set(
                re.findall(r"getenv\(\s*\"([A-Z_]+)\"", text)
            )
            assert touched <= {"DJANGO_SETTINGS_MODULE", "BICKERN_DATA"}, path


def test_a_new_data_folder_and_its_key_are_open_to_the_shop_alone(tmp_path: Path) -> None:
    data = tmp_path / "new"
    settings = {"BICKERN_DATA": str(data), "PYTHONPATH": str(ROOT), "PATH": os.environ["PATH"]}
    subprocess.run([PYTHON, "-P", "-c", "import shop.settings.base"], env=settings, check=True, umask=0o022)
    assert data.stat().st_mode & 0o777 == 0o700
    assert (data / "secret_key").stat().st_mode & 0o777 == 0o600

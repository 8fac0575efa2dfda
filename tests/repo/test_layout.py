"""The repository keeps the shape that DEVELOPERS.md describes."""

import subprocess
from pathlib import Path

import pytest

from deploy.environment import ROOT

VISIBLE = {
    "README.md",
    "DEVELOPERS.md",
    "manage.py",
    "pyproject.toml",
    "shop",
    "inventory",
    "orders",
    "deploy",
    "tests",
}
MADE_BY_TOOLS = {"__pycache__"}
# Module -> why it may be longer than 300 lines.
LONG_MODULES = {
    "inventory/models/stock.py": "the tables of the book with their constraints, read together",
    "orders/services/ordering.py": "everything that changes an order's terms and lines shares its guards",
    "shop/access/roles.py": "one table of every page and address with its least role or scope",
    "shop/api/describe.py": "the schema's shared pieces: problems, headers and examples in one list",
    "shop/api/view.py": "the one way an address works, from reading to answering",
    "shop/staff/views/counter_forms.py": "the Counter's slip and its lines, read as one form",
    "shop/staff/views/rack.py": "the Rack's pages",
}


def own_files(*endings: str) -> list[Path]:
    """Return the repository's files, or those with the endings."""
    hidden = {".git", ".venv", ".data", "__pycache__", ".mypy_cache", ".ruff_cache", ".hypothesis"}
    files = [path for path in ROOT.rglob("*") if path.is_file() and not hidden & set(path.relative_to(ROOT).parts)]
    return [path for path in files if not endings or path.name.endswith(endings)]


def test_a_visitor_sees_nine_names_and_no_more() -> None:
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - MADE_BY_TOOLS
    assert visible == VISIBLE


def lengths(*folders: str) -> dict[str, int]:
    """Return the line count of every module that people write below the folders."""
    modules = [path.relative_to(ROOT) for path in own_files(".py")]
    chosen = [path for path in modules if path.parts[0] in folders and "migrations" not in path.parts]
    return {str(path): len((ROOT / path).read_text("utf-8").splitlines()) for path in chosen}


def test_modules_stay_readable_in_one_sitting() -> None:
    ours = lengths("shop", "inventory", "orders", "deploy")
    assert {name: n for name, n in ours.items() if n > 500} == {}
    assert {name for name, n in ours.items() if n > 300} <= set(LONG_MODULES)
    assert set(LONG_MODULES) <= set(ours)


def test_a_test_module_may_be_longer_but_not_endless() -> None:
    assert {name: n for name, n in lengths("tests").items() if n > 1000} == {}


@pytest.mark.parametrize("script", ["deploy/start", "deploy/test", "deploy/check", "deploy/migrate", "deploy/lock"])
def test_the_scripts_can_be_run_and_parsed_by_a_plain_shell(script: str) -> None:
    path = ROOT / script
    assert path.stat().st_mode & 0o111
    assert subprocess.run(["sh", "-n", path], capture_output=True, check=False).returncode == 0


def test_the_machine_that_checks_every_change_calls_the_test_command_and_nothing_else() -> None:
    lines = [
        line for line in (ROOT / ".ci" / "run").read_text("utf-8").splitlines() if line and not line.startswith("#")
    ]
    assert lines == ["exec ./deploy/test"]


def test_no_file_names_a_folder_of_the_machine_it_was_written_on() -> None:
    places = [f"{place}/" for place in {str(ROOT), str(Path.home())} if len(Path(place).parts) > 1]
    for path in own_files():
        text = path.read_text("utf-8", errors="replace")
        assert not [place for place in places if place in text], path

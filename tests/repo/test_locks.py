"""The locks pin everything by hash and name no registry."""

import re
import tomllib

import pytest

from deploy.environment import LOCKS, ROOT


def pins(kind: str) -> dict[str, str]:
    """Return package to version (with its marker) of a lock."""
    return dict(re.findall(r"^([a-z0-9][a-z0-9._-]*)==(.+?) \\$", LOCKS[kind].read_text("utf-8"), re.MULTILINE))


@pytest.mark.parametrize("kind", LOCKS)
def test_a_lock_names_no_address(kind: str) -> None:
    text = LOCKS[kind].read_text("utf-8")
    assert "://" not in text
    assert not re.search(r"^\s*(-i|--(extra-)?index-url|-f|--find-links|--trusted-host)\b", text, re.MULTILINE)


@pytest.mark.parametrize("kind", LOCKS)
def test_every_package_of_a_lock_carries_a_hash(kind: str) -> None:
    blocks = re.split(r"^(?=[a-z0-9])", LOCKS[kind].read_text("utf-8"), flags=re.MULTILINE)[1:]
    assert blocks
    assert [block.splitlines()[0] for block in blocks if "--hash=sha256:" not in block] == []


def test_what_runs_is_what_was_tested() -> None:
    tested = pins("test")
    version = {name: pin.split(" ;")[0] for name, pin in tested.items()}
    for name, pin in {**pins("run")}.items():
        assert version.get(name) == pin.split(" ;")[0], name


@pytest.mark.parametrize(("kind", "part"), [("run", "dependencies"), ("test", "test"), ("broker", "broker")])
def test_a_lock_holds_what_the_project_asks_for(kind: str, part: str) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    wanted = {
        "dependencies": project["project"]["dependencies"],
        "test": project["project"]["optional-dependencies"]["test"],
        "broker": project["dependency-groups"]["broker"],
    }[part]
    names = {re.split(r"[\[><=;~! ]", line)[0].lower() for line in wanted}
    assert names <= set(pins(kind))

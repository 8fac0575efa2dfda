"""What the documents name exists."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from deploy.environment import ROOT

DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "deploy" / "CHANGES.md"]


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_every_command_a_document_names_exists(document: Path) -> None:
    named = set(re.findall(r"manage\.py ([a-z_]+)", document.read_text("utf-8")))
    assert named <= set(get_commands())


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_every_script_a_document_names_exists(document: Path) -> None:
    for name in set(re.findall(r"\bdeploy/([a-z][a-z.-]*[a-z])", document.read_text("utf-8"))):
        assert (ROOT / "deploy" / name).exists(), name


def test_the_contributors_guide_names_every_command_of_our_own() -> None:
    own = {name for name, app in get_commands().items() if app.split(".")[0] in {"shop", "inventory", "orders"}}
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8") + (ROOT / "README.md").read_text("utf-8")
    assert {name for name in own if name not in text} == set()


def test_the_first_paragraph_of_the_readme_states_the_job() -> None:
    title, first = (ROOT / "README.md").read_text("utf-8").split("\n\n")[:2]
    assert title.startswith("# ")
    assert {"stock", "order", "forge"} <= set(re.findall(r"[a-z]+", first.lower().replace("orders", "order")))

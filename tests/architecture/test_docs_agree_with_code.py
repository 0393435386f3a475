"""What the pages say is what the code does: commands, places, settings, rules, dependencies."""

import re
import tomllib

import pytest

from service.domain.rule import Rule
from service.settings import PREFIX, Settings
from service.wording.findings import load_table
from tests.conftest import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
RUNBOOK = (ROOT / "deploy" / "RUNBOOK.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
MAKEFILE = (ROOT / "Makefile").read_text(encoding="utf-8")


def section(page: str, title: str) -> str:
    return re.split(r"^## ", page.split(f"\n## {title}\n", 1)[1], flags=re.MULTILINE)[0]


def first_cells(table: str) -> list[str]:
    return [line.split("|")[1].strip().strip("`") for line in table.splitlines() if line.startswith("| ")][1:]


def test_every_make_target_is_described_and_short():
    targets = re.findall(r"^([a-z-]+):(?!=)", MAKEFILE, flags=re.MULTILINE)
    described = [cell.removeprefix("make ") for cell in first_cells(section(DEVELOPERS, "Set up"))]
    assert sorted(targets) == sorted(described)
    recipes = re.split(r"^[a-z-]+:.*$", MAKEFILE, flags=re.MULTILINE)[1:]
    assert all(len(recipe.strip().splitlines()) <= 2 for recipe in recipes)


def test_every_place_exists_and_every_part_has_its_place():
    named = [name for cell in first_cells(section(DEVELOPERS, "Where things go")) for name in cell.split("`, `")]
    assert [name for name in named if not (ROOT / name).exists()] == []
    parts = {f"service/{p.parent.name}/" for p in (ROOT / "service").glob("*/__init__.py")}
    assert parts <= set(named)
    tests = {f"tests/{p.name}/" for p in (ROOT / "tests").iterdir() if p.is_dir() and p.name != "__pycache__"}
    assert tests <= set(named)


def test_every_rule_is_written_down():
    assert first_cells(section(DEVELOPERS, "The rules of a plan")) == list(Rule)
    assert set(load_table("rules")) == set(Rule)


def test_every_dependency_has_its_reason():
    declared = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["dev"]]
    names = {re.match(r"[A-Za-z0-9._-]+", text)[0] for text in declared}
    written = first_cells(section(DEVELOPERS, "Dependencies, each with its reason"))
    assert {name for cell in written for name in cell.split(", ")} == names


def test_every_setting_is_in_the_runbook_with_its_default():
    rows = {
        cells[1].strip().strip("`"): cells[2].strip().strip("`")
        for line in RUNBOOK.splitlines() if line.startswith("| `GRAFTSTAGE_") for cells in [line.split("|")]
    }
    defaults = {PREFIX + name.upper(): field.default for name, field in Settings.model_fields.items()}
    assert rows == {name: str(default) if default not in ((), "") else "none" for name, default in defaults.items()}


@pytest.mark.parametrize("page", [README, DEVELOPERS, RUNBOOK], ids=["README", "DEVELOPERS", "RUNBOOK"])
def test_every_file_that_a_page_names_exists(page):
    named = re.findall(r"`((?:service|tests|openapi|shared|deploy)/[\w./-]+)`", page)
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_the_readme_opens_with_the_job_and_the_two_commands():
    opening = README.split("\n## ", 1)[0]
    assert "make run" in opening and "make test" in opening
    assert len(opening) < 2_000

"""The list of changes speaks of tables and rows that exist, and of the version that is shipped."""

import csv
import re
from pathlib import Path

import pytest

from service.evidence import library
from service.evidence.library import load_evidence

ROOT = Path(library.__file__).parent
TEXT = (ROOT / "CHANGES.md").read_text(encoding="utf-8")
ADDED = TEXT.partition("### Rows added since")[2]


def parameters(table):
    with (ROOT / "tables" / table).open(newline="", encoding="utf-8") as handle:
        return {row["parameter"] for row in csv.DictReader(handle)}


def test_the_shipped_version_has_a_section():
    assert f"\n## {load_evidence().version}\n" in TEXT


@pytest.mark.parametrize("table", [
    "dressings.csv", "theatre_team.csv", "stored_skin.csv", "fluids.csv", "assessment.csv", "body_surface_area.csv"])
def test_rows_that_are_named_stand_in_their_table(table):
    lines = [line for line in ADDED.splitlines() if line.startswith(f"| `{table}`")]
    named = {name for line in lines for name in re.findall(r"`([a-z-]+)`", line)}
    assert named
    assert named <= parameters(table)


def test_whole_new_tables_are_named_whole():
    for table in ("theatre_team.csv", "stored_skin.csv"):
        assert all(f"`{name}`" in ADDED for name in parameters(table))

"""One table of findings: documented, coded, raised, each of them; and nothing else is."""

import ast

from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.codes import load_code_map
from service.wording.findings import load_table
from tests.architecture.findings_table import PAGE, replace_section
from tests.conftest import ROOT

CODES = set(load_table("findings"))


def texts_in_code() -> set[str]:
    """Every text that stands by itself in the code of the service, docstrings apart from it."""
    texts = set()
    for path in (ROOT / "service").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                texts.add(node.value)
    return texts


def test_the_page_for_developers_lists_every_finding():
    page = PAGE.read_text(encoding="utf-8")
    assert replace_section(page) == page
    assert all(f"| `{code}` |" in page for code in CODES)


def test_every_finding_is_raised_somewhere():
    assert CODES - texts_in_code() == set()


def test_every_finding_has_its_code_and_every_code_its_finding():
    coded = {row.name for row in load_code_map(DEFAULT_CANONICAL_BASE).rows_of_kind("finding")}
    assert coded == CODES


def test_the_walk_reads_the_code():
    assert {"comfort-care", "still-open"} < texts_in_code()
    assert "no-such-finding" not in texts_in_code()

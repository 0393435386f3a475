"""A clinical number arrives as an argument from evidence or preferences; it never stands in code."""

import ast
from pathlib import Path

import pytest

SERVICE = Path(__file__).parents[2] / "service"
#: Sizes of tables and numbers of random streams: nothing about a patient.
TABLES_AND_STREAMS = {"draws.py", "quantile_tables.py"}
FILES = sorted(
    path for name in ("formulas", "planning", "schedule", "simulation") for path in (SERVICE / name).glob("*.py")
    if path.name not in TABLES_AND_STREAMS)

#: What arithmetic itself needs, with the reason.
ALLOWED = {
    0: "nothing, the first element",
    1: "the whole, the next element",
    2: "half, both sides, a square",
    10: "tenths: the printable step of an area",
    100: "per cent, and square millimetres in a square centimetre",
    1000: "tenths of a square centimetre in one per cent of a square metre",
    0.1: "the printable step of an area",
    1e-9: "tolerance of floating-point comparison",
}
CONVERSIONS = {"Decimal", "Fraction", "float", "int"}


def literal_numbers(tree: ast.AST) -> list[tuple[float, int]]:
    """Numbers written in a syntax tree, also inside ``Decimal("…")``, each with its line."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            found.append((abs(node.value), node.lineno))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in CONVERSIONS and node.args:
            first = node.args[0]
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                found.append((abs(float(first.value)), first.lineno))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_clinical_literal(path):
    clinical = [(n, line) for n, line in literal_numbers(ast.parse(path.read_text())) if n not in ALLOWED]
    assert not clinical, f"numbers that belong into evidence or preferences: {clinical}"


FORMULAS = [path for path in FILES if path.parent.name == "formulas"]


@pytest.mark.parametrize("path", FORMULAS, ids=lambda path: path.name)
def test_a_formula_has_no_numeric_default(path):
    """A default would be a number nobody asked for, whatever its size."""
    defaults = [
        (node.name, default.value)
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef)
        for default in [*node.args.defaults, *filter(None, node.args.kw_defaults)]
        if isinstance(default, ast.Constant) and type(default.value) in (int, float)
    ]
    assert not defaults


def test_the_walk_finds_numbers_in_code_and_in_decimal_text():
    tree = ast.parse("loss = 0.8 * area\nlimit = Decimal('14')\nshare = -3")
    assert sorted(n for n, _ in literal_numbers(tree)) == [0.8, 3, 14]


def test_the_walk_reads_the_formulas():
    assert {path.name for path in FORMULAS} >= {"expansion.py", "blood_loss.py", "fluids.py", "body_chart.py"}

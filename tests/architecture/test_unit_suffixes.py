"""A number in the domain says its unit in its name."""

import ast
import re
from pathlib import Path

DOMAIN = Path(__file__).parents[2] / "service" / "domain"
UNITS = re.compile(
    r"(^|_)(cm2|m2|mm|cm|kg|ml|g_dl|ml_per_hour|ml_per_kg|days?|hours|minutes?|seconds|years|celsius|fraction|share|ratio|count"
    r"|percent(_\w+)?|units(_\w+)?|ordinal|number)$"
)
#: Numbers whose unit stands beside them, or that only count or name.
COUNTS = {
    "year", "month", "session", "seed",
    "plates", "plates_from_whole_squares", "plates_with_piecing", "strips", "spare_carriers",
    "positions", "harvests_allowed",
}  # fmt: skip
UNIT_BESIDE = {"value", "usual_value", "low", "median", "high", "gap"}
UNIT_INSIDE = {"session_minutes_limit"}


def numeric_fields(source: str) -> list[str]:
    return [
        statement.target.id
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.ClassDef)
        for statement in node.body
        if isinstance(statement, ast.AnnAssign)
        and re.match(r"(int|float|Decimal|Measured)\b", ast.unparse(statement.annotation))
    ]


def is_named_with_unit(name: str) -> bool:
    return bool(UNITS.search(name)) or name in COUNTS | UNIT_BESIDE | UNIT_INSIDE


def test_numeric_domain_fields_carry_their_unit():
    fields = {f"{p.name}: {name}" for p in DOMAIN.glob("*.py") for name in numeric_fields(p.read_text())}
    assert "burn_wound.py: area_cm2" in fields
    assert not {field for field in fields if not is_named_with_unit(field.split(": ")[1])}


def test_a_number_without_a_unit_is_noticed():
    fields = numeric_fields("class Wound:\n    area: Decimal\n    depth_mm: Decimal | None\n    name: str")
    assert [name for name in fields if not is_named_with_unit(name)] == ["area"]

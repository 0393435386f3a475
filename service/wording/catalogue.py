"""The message catalogue: sentences by code, read from the tables beside this file."""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path

TABLES = Path(__file__).parent / "tables"
NOT_STATED = "(not stated)"


class _Values(dict):
    """Values of a sentence; one that was not given prints as such and hides nothing."""

    def __missing__(self, key: str) -> str:
        return NOT_STATED


@lru_cache
def load_table(name: str) -> dict[str, dict[str, str]]:
    """Rows of one table by their ``code``. Raises ``ValueError`` on a code that stands twice."""
    with (TABLES / f"{name}.csv").open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    table = {row["code"]: row for row in rows}
    if len(table) != len(rows):
        raise ValueError(f"{name}: a code stands twice")
    return table


def fill(template: str, values: dict[str, str]) -> str:
    """The sentence with its values; a missing value prints ``(not stated)``."""
    return template.format_map(_Values(values))

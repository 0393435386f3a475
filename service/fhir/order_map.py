"""A site's own order codes and the acts that they stand for; without such a file no order is read.

Columns: ``system``, ``code``, ``act`` (``harvest`` or ``place``) and ``method``, a graft method with
its ratio as in the code map, empty for a harvest.
"""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path
from typing import Any

from service.domain.case import Act
from service.domain.graft import GraftMethod
from service.fhir.codes import codings_of

COLUMNS = ["system", "code", "act", "method"]
_ACTS = {"harvest": Act.HARVEST, "place": Act.PLACE}

Meaning = tuple[Act, GraftMethod | None]


@lru_cache(maxsize=8)
def load_order_map(path: str) -> dict[tuple[str, str], Meaning]:
    """Act and method by system and code. Raises ``ValueError`` naming the row that cannot be used."""
    try:
        with Path(path).open(newline="", encoding="utf-8") as handle:
            reader = csv.DictReader(handle, strict=True)
            names, rows = reader.fieldnames, list(reader)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ValueError(f"order map: cannot be read ({type(error).__name__})") from None
    if names != COLUMNS or not rows:
        raise ValueError(f"order map: columns are to be {','.join(COLUMNS)}, with a row at least")
    meanings: dict[tuple[str, str], Meaning] = {}
    for number, row in enumerate(rows, start=2):
        key = (row["system"], row["code"])
        if not all(key) or key in meanings:
            raise ValueError(f"order map: line {number} lacks system or code, or stands twice")
        meanings[key] = _meaning_of(row, number)
    return meanings


def _meaning_of(row: dict[str, str], number: int) -> Meaning:
    act, methods = _ACTS.get(row["act"]), {str(method) for method in GraftMethod}
    if act is None or (row["method"] and (act is Act.HARVEST or row["method"] not in methods)):
        raise ValueError(f"order map: line {number} has an act or a method that is not known")
    return act, GraftMethod(row["method"]) if row["method"] else None


def find_meaning(concept: Any, order_map: dict[tuple[str, str], Meaning]) -> Meaning | None:
    """What an order is for; ``None`` when the site has not mapped its code."""
    found = (order_map.get((c.get("system", ""), c.get("code", ""))) for _, c in codings_of(concept))
    return next((meaning for meaning in found if meaning), None)

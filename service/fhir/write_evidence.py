"""Where a number comes from, as a citation; a row from memory says so."""

from __future__ import annotations

from functools import lru_cache

from service.evidence.library import load_evidence


@lru_cache(maxsize=1024)
def cite_evidence(row_id: str) -> str:
    """``take/island: own-estimate (M)``: the row of the evidence tables with its source.

    Raises ``KeyError`` when there is no such row.
    """
    parameter, _, applies_to = row_id.partition("/")
    return f"{row_id}: {load_evidence().row(parameter, applies_to).citation}"

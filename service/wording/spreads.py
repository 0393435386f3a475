"""A number of the evidence with its range, in words."""

from __future__ import annotations

from service.evidence.library import EvidenceRow


def spread_in_words(row: EvidenceRow) -> str:
    """``12 (12-18)``, or the number alone when it is fixed. [unit of the row]"""
    return f"{row.value:f}" if row.low is None else f"{row.value:f} ({range_in_words(row)})"


def range_in_words(row: EvidenceRow) -> str:
    """``12-18``, or the number alone when it is fixed. [unit of the row]"""
    return f"{row.value:f}" if row.low is None else f"{row.low:f}-{row.high:f}"

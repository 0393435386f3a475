"""Findings: what is said about a case or a plan beside the plan itself."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    HIGH = "high"
    MODERATE = "moderate"
    LOW = "low"


@dataclass(frozen=True)
class Finding:
    """A finding by code; its words, mitigation and evidence are rows of ``wording/tables/findings.csv``.

    ``values`` fill the placeholders of the row's text; ``place`` and ``session`` say what it
    is about; ``sources`` are record keys.
    """

    code: str
    severity: Severity
    values: tuple[tuple[str, str], ...] = ()
    place: str = ""
    session: int | None = None
    sources: tuple[str, ...] = ()

"""The evidence tables: every clinical number with its range, distribution, source and key.

A row says how its number was read (``read_as``): A abstract, P paper, R registration,
D derived by arithmetic, M from memory and unverified, C common practice without a source.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

from service.evidence.distributions import quantile_of

TABLES = Path(__file__).parent / "tables"


@dataclass(frozen=True)
class EvidenceRow:
    """One number. ``low`` and ``high`` bound the distribution; both ``None`` when it is fixed."""

    parameter: str
    applies_to: str
    value: Decimal
    low: Decimal | None
    high: Decimal | None
    unit: str
    distribution: str
    confidence: str
    source: str
    read_as: str
    place: str  # where the evidence pages state it

    @property
    def row_id(self) -> str:
        """Id that answers and findings cite: ``take/island``."""
        return f"{self.parameter}/{self.applies_to}"

    @property
    def citation(self) -> str:
        """The source as printed; rows from memory carry ``(M)``."""
        return f"{self.source} (M)" if self.read_as == "M" else self.source


class Evidence:
    """All rows, looked up by parameter and what they apply to.

    Raises ``KeyError`` with the row id when a row is missing: there is no default.
    """

    def __init__(self, rows: tuple[EvidenceRow, ...], sha256: str) -> None:
        self._rows = {row.row_id: row for row in rows}
        if len(self._rows) != len(rows):
            raise ValueError("duplicate evidence rows")
        self.sha256 = sha256
        self._quantiles: dict[tuple[str, Decimal], Decimal] = {}

    def __iter__(self):
        return iter(self._rows.values())

    def row(self, parameter: str, applies_to: str = "any") -> EvidenceRow:
        return self._rows[f"{parameter}/{applies_to}"]

    def has(self, parameter: str, applies_to: str = "any") -> bool:
        return f"{parameter}/{applies_to}" in self._rows

    def value(self, parameter: str, applies_to: str = "any") -> Decimal:
        return self.row(parameter, applies_to).value

    def rows(self, parameter: str) -> tuple[EvidenceRow, ...]:
        return tuple(row for row in self if row.parameter == parameter)

    def quantile(self, parameter: str, applies_to: str, probability: Decimal) -> Decimal:
        """Quantile of the row's truncated distribution, to three decimals. [unit of the row]"""
        row = self.row(parameter, applies_to)
        key = (row.row_id, probability)
        if key not in self._quantiles:
            self._quantiles[key] = quantile_of(row.distribution, row.value, row.low, row.high, probability)
        return self._quantiles[key]

    def with_rows(self, changed: Iterable[EvidenceRow]) -> Evidence:
        """The same with some rows in place of those of the same id, or beside the others."""
        return Evidence(tuple({**self._rows, **{row.row_id: row for row in changed}}.values()), self.sha256)

    @property
    def version(self) -> str:
        return (TABLES.parent / "VERSION").read_text().strip()


def tables_hash() -> str:
    """SHA-256 over the tables in name order: what the lock file pins and every plan carries."""
    digest = hashlib.sha256()
    for path in sorted(TABLES.glob("*.csv")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def _decimal(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _read_table(path: Path) -> list[EvidenceRow]:
    with path.open(newline="") as handle:
        return [
            EvidenceRow(**{
                **line,
                "value": Decimal(line["value"]),
                "low": _decimal(line["low"]),
                "high": _decimal(line["high"]),
            })
            for line in csv.DictReader(handle)
        ]


@lru_cache(maxsize=1)
def load_evidence() -> Evidence:
    """Read all tables; refuse when the lock file pins another hash."""
    sha256 = tables_hash()
    locked = (TABLES.parent / "evidence.lock").read_text().split()[0]
    if locked != sha256:
        raise ValueError("evidence tables differ from evidence.lock; run `graftstage evidence lock`")
    rows = [row for path in sorted(TABLES.glob("*.csv")) for row in _read_table(path)]
    return Evidence(tuple(rows), sha256)

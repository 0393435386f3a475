"""Value judgements, apart from measurements: what a burn team sets for itself."""

from __future__ import annotations

import csv
import hashlib
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

TABLE = Path(__file__).parent / "preferences.csv"


@dataclass(frozen=True)
class Preference:
    """One judgement with its range, its reason, and who should set it."""

    name: str
    applies_to: str
    value: Decimal
    low: Decimal
    high: Decimal
    unit: str
    reason: str
    set_by: str
    read_as: str

    @property
    def key(self) -> str:
        """``name`` alone, or ``name/applies-to``: also how a request overrides it."""
        return self.name if self.applies_to == "any" else f"{self.name}/{self.applies_to}"


class Preferences:
    """All preferences. Raises ``KeyError`` for a name that does not exist."""

    def __init__(self, table: dict[str, Preference], overrides: dict[str, Decimal], sha256: str) -> None:
        self._table = table
        self._overrides = overrides
        self.sha256 = sha256

    def __iter__(self):
        return iter(self._table.values())

    def row(self, name: str, applies_to: str = "any") -> Preference:
        return self._table[name if applies_to == "any" else f"{name}/{applies_to}"]

    def value(self, name: str, applies_to: str = "any") -> Decimal:
        row = self.row(name, applies_to)
        return self._overrides.get(row.key, row.value)

    def integer(self, name: str, applies_to: str = "any") -> int:
        return int(self.value(name, applies_to))

    @property
    def overrides(self) -> dict[str, Decimal]:
        return dict(self._overrides)

    def with_overrides(self, overrides: tuple[tuple[str, Decimal], ...]) -> Preferences:
        """The same table with a caller's values.

        Raises ``KeyError`` for an unknown name and ``ValueError`` for a value outside its range.
        """
        for key, value in overrides:
            row = self._table[key]
            if not row.low <= value <= row.high:
                raise ValueError(key)
        return Preferences(self._table, {**self._overrides, **dict(overrides)}, self.sha256)


@lru_cache(maxsize=1)
def load_preferences() -> Preferences:
    text = TABLE.read_bytes()
    rows = [
        Preference(**{**line, **{k: Decimal(line[k]) for k in ("value", "low", "high")}})
        for line in csv.DictReader(text.decode().splitlines())
    ]
    return Preferences({row.key: row for row in rows}, {}, hashlib.sha256(text).hexdigest())

"""The tables of the contract, from which parser and conformance resources are both made."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

TABLES = Path(__file__).parent / "tables"


def read_table(name: str) -> list[dict[str, str]]:
    with (TABLES / f"{name}.csv").open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def _number(text: str) -> Decimal | None:
    return Decimal(text) if text else None


@dataclass(frozen=True)
class ValueRule:
    """What a value must be: its type, its value set or the kind and range of its quantity."""

    code: str
    value_type: str
    quantity_kind: str
    value_set: str
    unit: str
    low: Decimal | None
    high: Decimal | None
    title: str
    meaning: str


@dataclass(frozen=True)
class Profile(ValueRule):
    """An input profile.

    ``place``: ``none``, ``region`` (no surface), ``surface`` (one surface), ``surfaces``
    (one, or both when none is given), ``procedure`` and ``part`` (site of the Procedure).
    """

    resource: str
    oldest_days: int | None
    place: str
    components: tuple[str, ...]
    part_of: tuple[str, ...]


def _rule_fields(row: dict[str, str]) -> dict:
    names = ("code", "value_type", "quantity_kind", "value_set", "unit", "title", "meaning")
    return {name: row[name] for name in names} | {"low": _number(row["low"]), "high": _number(row["high"])}


@lru_cache(maxsize=1)
def input_profiles() -> dict[str, Profile]:
    return {
        row["code"]: Profile(
            **_rule_fields(row),
            resource=row["resource"],
            oldest_days=int(row["oldest_days"]) if row["oldest_days"] else None,
            place=row["place"],
            components=tuple(row["components"].split()),
            part_of=tuple(row["part_of"].split()),
        )
        for row in read_table("input_profiles")
    }


@lru_cache(maxsize=1)
def component_rules() -> dict[str, ValueRule]:
    return {row["code"]: ValueRule(**_rule_fields(row)) for row in read_table("components")}


@lru_cache(maxsize=1)
def bindings() -> dict[tuple[str, str], tuple[str, ...]]:
    """Required bindings of FHIR that the structure check does not enforce."""
    return {(row["resource"], row["element"]): tuple(row["codes"].split()) for row in read_table("bindings")}


@dataclass(frozen=True)
class AbsenceRule:
    """What the absence of a datum means: ``required``, ``precondition``, ``accepted`` or ``none``."""

    datum: str
    code: str
    kind: str
    profile: str
    path: str
    meaning: str


@lru_cache(maxsize=1)
def absence_rules() -> dict[str, AbsenceRule]:
    return {row["datum"]: AbsenceRule(**row) for row in read_table("absence")}

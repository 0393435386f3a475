"""The one place where units are converted. A unit that is not in the table is refused."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from service.fhir.canonical import UCUM
from service.fhir.read_log import ReadLog
from service.fhir.tables import ValueRule, read_table

SMALLEST = Decimal("1e-9")  # anything nearer to zero was not measured


@dataclass(frozen=True)
class UnitRow:
    """House value = (sent value + offset) × factor."""

    code: str
    factor: Decimal
    offset: Decimal
    alias_of: str


@dataclass(frozen=True)
class ReadQuantity:
    """A value in house units; ``as_sent`` is value and unit as they came, when converted."""

    value: Decimal
    as_sent: str = ""


@lru_cache(maxsize=1)
def units() -> dict[str, dict[str, UnitRow]]:
    """Units by kind of quantity and by code."""
    table: dict[str, dict[str, UnitRow]] = defaultdict(dict)
    for row in read_table("ucum_units"):
        unit = UnitRow(row["code"], Decimal(row["factor"]), Decimal(row["offset"]), row["alias_of"])
        table[row["kind"]][unit.code] = unit
    return table


def unit_codes(kind: str) -> tuple[str, ...]:
    """UCUM codes that a kind of quantity is read in, the house unit first."""
    return tuple(code for code, unit in units()[kind].items() if not unit.alias_of)


def read_number(value: Any, expression: str, log: ReadLog) -> Decimal | None:
    """A JSON number, exactly; booleans and quoted numbers are none."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        log.fault("not-a-number", expression)
        return None
    number = Decimal(value)
    if number and abs(number) < SMALLEST:
        log.fault("value-vanishing", expression)
        return None
    return number + 0 if number == 0 else number


def _find_unit(quantity: dict[str, Any], kind: str, expression: str, log: ReadLog) -> UnitRow | None:
    known = units()[kind]
    code, system, printed = quantity.get("code"), quantity.get("system"), quantity.get("unit")
    if not (code and system and isinstance(code, str)):
        log.fault("unit-required", expression)
        return None
    if system != UCUM:
        log.fault("unit-system", f"{expression}.system")
        return None
    unit = known.get(code)
    if unit is None:
        log.fault("unit-unknown", f"{expression}.code", allowed=", ".join(unit_codes(kind)))
        return None
    if unit.alias_of:
        log.note("unit-alias", f"{expression}.code", allowed=unit.alias_of)
    shown = known.get(printed) if isinstance(printed, str) else None
    if shown and (shown.alias_of or shown.code) != (unit.alias_of or unit.code):
        log.fault("unit-conflict", f"{expression}.unit")
        return None
    return unit


def read_quantity(quantity: Any, rule: ValueRule, expression: str, log: ReadLog) -> ReadQuantity | None:
    """A Quantity in house units, within its range.

    Parameters
    ----------
    quantity : dict
        FHIR Quantity as sent.
    rule : ValueRule
        Kind of quantity, house unit and range.
    expression : str
        FHIRPath of the quantity.
    """
    if not isinstance(quantity, dict):
        log.fault("value-invalid", expression)
        return None
    if "comparator" in quantity:
        log.fault("comparator", f"{expression}.comparator")
        return None
    number = read_number(quantity.get("value"), f"{expression}.value", log)
    unit = _find_unit(quantity, rule.quantity_kind, expression, log)
    if number is None or unit is None:
        return None
    is_house_unit = unit.factor == 1 and not unit.offset
    value = number if is_house_unit else (number + unit.offset) * unit.factor
    if not rule.low <= value <= rule.high:
        log.fault("value-range", f"{expression}.value", low=rule.low, high=rule.high, unit=rule.unit)
        return None
    return ReadQuantity(value, "" if is_house_unit else f"{number} {unit.code}")

"""Computed numbers on their way out: value, interval, unit, and where they come from."""

from __future__ import annotations

from decimal import Decimal

from service.fhir.canonical import UCUM

COUNT = "1"
#: How a UCUM code is printed; a unit that is not listed prints as its code.
PRINTED_UNITS = {"cm2": "cm²", "m2": "m²", "d": "days", "min": "minutes", "%.d": "%TBSA-days", COUNT: "count"}


def write_quantity(value: Decimal, unit: str) -> dict:
    """A FHIR Quantity; ``unit`` is a UCUM code. The decimal keeps its printed form."""
    return {"value": value, "unit": print_unit(unit), "system": UCUM, "code": unit}


def print_unit(unit: str) -> str:
    """A UCUM code as people write it."""
    return PRINTED_UNITS.get(unit, unit)


def write_range(low: Decimal, high: Decimal, unit: str) -> dict:
    return {"low": write_quantity(low, unit), "high": write_quantity(high, unit)}

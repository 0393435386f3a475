"""One conversion point, checked against a general-purpose unit library."""

from decimal import Decimal

import pint
import pytest

from service.fhir.quantities import read_quantity, unit_codes, units
from service.fhir.read_log import ReadLog
from service.fhir.tables import ValueRule
from tests.builders import quantity

HOUSE = {
    "mass": "kg", "length": "cm", "body-surface": "m**2", "area": "cm**2", "percent": "percent",
    "thickness": "mm", "mass-concentration": "g/dL", "temperature": "degC",
}
IN_PINT = {
    "[lb_av]": "lb", "[in_i]": "inch", "m2": "m**2", "cm2": "cm**2", "mm2": "mm**2", "%": "percent", "um": "um",
    "Cel": "degC", "[degF]": "degF",
}
UNITS = pint.UnitRegistry(non_int_type=Decimal)
EVERY_UNIT = [(kind, code) for kind in units() for code in unit_codes(kind)]


def rule(kind: str) -> ValueRule:
    return ValueRule("x", "Quantity", kind, "", HOUSE[kind], Decimal("-1e9"), Decimal("1e9"), "", "")


@pytest.mark.parametrize(("kind", "code"), EVERY_UNIT)
def test_a_conversion_agrees_with_the_unit_library(kind, code):
    log = ReadLog()
    value = read_quantity(quantity("98.6", code), rule(kind), "value", log).value
    expected = UNITS.Quantity(Decimal("98.6"), IN_PINT.get(code, code)).to(HOUSE[kind]).magnitude
    assert float(value) == pytest.approx(float(expected), rel=1e-9)
    assert log.faults == []


def test_a_converted_value_says_what_was_sent():
    read = read_quantity(quantity("150", "[lb_av]"), rule("mass"), "value", ReadLog())
    assert (read.value, read.as_sent) == (Decimal("68.0388555"), "150 [lb_av]")


def test_a_value_in_the_house_unit_keeps_its_digits():
    read = read_quantity(quantity("70.50", "kg"), rule("mass"), "value", ReadLog())
    assert (str(read.value), read.as_sent) == ("70.50", "")


def test_an_alias_is_read_and_said():
    log = ReadLog()
    assert read_quantity(quantity("1.9", "m^2"), rule("body-surface"), "value", log).value == Decimal("1.9")
    assert [note.error_id for note in log.notes] == ["unit-alias"]


@pytest.mark.parametrize(("change", "error_id"), [
    ({"comparator": "<"}, "comparator"),
    ({"value": "70"}, "not-a-number"),
    ({"value": True}, "not-a-number"),
    ({"code": "stone"}, "unit-unknown"),
    ({"system": "https://record.example"}, "unit-system"),
    ({"unit": "g"}, "unit-conflict"),
    ({"value": Decimal("1e-12")}, "value-vanishing"),
])
def test_what_is_refused(change, error_id):
    log = ReadLog()
    assert read_quantity(quantity(70, "kg") | change, rule("mass"), "value", log) is None
    assert error_id in [fault.error_id for fault in log.faults]


def test_minus_zero_is_zero():
    read = read_quantity(quantity("-0.0", "%"), rule("percent"), "value", ReadLog())
    assert read.value == 0 and not read.value.is_signed()

"""The published OperationDefinition and the parser agree on every parameter and every part.

Values are made from the definition alone; the parser is then asked what it makes of them.
"""

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from service.fhir.codes import load_code_map
from service.fhir.export_conformance import conformance_resources
from service.fhir.read_log import ReadLog
from service.fhir.read_parameters import read_parameters

BASE = "https://burns.example/fhir"
RESOURCES = conformance_resources(BASE)
DEFINED = [
    p for r in RESOURCES if r["resourceType"] == "OperationDefinition" and r["id"] == "plan-grafts"
    for p in r["parameter"] if p["use"] == "in" and p["name"] != "bundle"]
CODES = {r["url"]: r["compose"]["include"][0]["concept"] for r in RESOURCES if r["resourceType"] == "ValueSet"}
#: Names with a list of their own, which no binding can state.
NAMED = {"time-zone": "Europe/Vienna", "name": "rest-days"}
#: A decision that fits together; each single value of it is tried on its own below.
FITTING = {"act": "graft", "region": "thigh", "side": "left", "method": "meshed-1-2"}
WITH_PARTS = [p for p in DEFINED if "part" in p]
SINGLE = [p for p in DEFINED if "part" not in p]


def bounds_of(defined: dict) -> tuple[str, str] | None:
    """Bounds as the documentation states them."""
    words = defined["documentation"].rstrip(".)").rpartition("(")[2].split(" to ")
    return tuple(words) if len(words) == 2 and "(" in defined["documentation"] else None


def codes_of(defined: dict) -> list[str]:
    return [concept["code"] for concept in CODES[defined["binding"]["valueSet"]]]


def value_of(defined: dict) -> dict:
    """A value that the definition allows."""
    name, kind, bounds = defined["name"], defined["type"], bounds_of(defined)
    low = Decimal(bounds[0]) if bounds else Decimal(1)
    if kind == "code":
        codes = codes_of(defined)
        value = FITTING[name] if FITTING.get(name) in codes else codes[0]
    else:
        value = {
            "instant": "2026-03-02T08:00:00Z", "date": "2026-03-03", "string": NAMED.get(name), "boolean": True,
            "integer": int(low), "decimal": low + 1,
            "Quantity": {"value": low, "unit": "cm2", "system": "http://unitsofmeasure.org", "code": "cm2"},
        }[kind]
    return {"name": name, f"value{kind[0].upper()}{kind[1:]}": value}


def parameter_of(defined: dict, *, leave_out: str = "") -> dict:
    if "part" not in defined:
        return value_of(defined)
    return {"name": defined["name"], "part": [value_of(p) for p in defined["part"] if p["name"] != leave_out]}


def faults_of(*parameters: dict) -> set[str]:
    log = ReadLog()
    sent = [(f"Parameters.parameter[{index}]", parameter) for index, parameter in enumerate(parameters)]
    read_parameters(
        sent, as_of=datetime(2026, 3, 2, tzinfo=UTC), site_time_zone="Etc/UTC", code_map=load_code_map(BASE), log=log)
    return {fault.error_id for fault in log.faults}


def within(part: dict, value: dict) -> dict:
    """A parameter with one of its parts replaced."""
    whole = next(p for p in WITH_PARTS if part in p["part"])
    return {"name": whole["name"], "part": [value if p is part else value_of(p) for p in whole["part"]]}


def send(defined: dict, value: dict) -> set[str]:
    return faults_of(value if defined in SINGLE else within(defined, value))


ALL = [*SINGLE, *(part for whole in WITH_PARTS for part in whole["part"])]
BOUNDED = [p for p in ALL if bounds_of(p)]
CODED = [p for p in ALL if "binding" in p]


def by_name(defined: dict) -> str:
    return defined["name"]


@pytest.mark.parametrize("defined", DEFINED, ids=by_name)
def test_what_is_defined_is_read(defined):
    assert faults_of(parameter_of(defined)) == set()


@pytest.mark.parametrize("defined", DEFINED, ids=by_name)
def test_as_often_as_is_defined_and_no_more(defined):
    twice = faults_of(parameter_of(defined), parameter_of(defined))
    assert twice == ({"parameter-twice"} if defined["max"] == "1" else set())


@pytest.mark.parametrize("defined", ALL, ids=by_name)
def test_another_type_is_refused(defined):
    assert send(defined, {"name": defined["name"], "valueUri": "urn:x"}) == {"parameter-value"}


@pytest.mark.parametrize("defined", BOUNDED, ids=by_name)
def test_the_bounds_that_are_stated_hold(defined):
    sent = value_of(defined)
    key = next(name for name in sent if name.startswith("value"))
    for bound, beyond in zip(bounds_of(defined), (-1, 1), strict=True):
        for step, refused in ((0, False), (beyond, True)):
            number = Decimal(bound) + step
            if defined["type"] == "Quantity":
                value = sent[key] | {"value": number}
            else:
                value = int(number) if defined["type"] == "integer" else number
            assert bool(send(defined, sent | {key: value})) == refused, (bound, step)


@pytest.mark.parametrize("defined", CODED, ids=by_name)
def test_the_codes_that_are_bound_are_those_that_are_read(defined):
    def is_refused(code: str) -> bool:
        return "parameter-code" in send(defined, {"name": defined["name"], "valueCode": code})

    assert [code for code in codes_of(defined) if is_refused(code)] == []
    assert is_refused("no-such-code")


@pytest.mark.parametrize(
    ("whole", "part"), [(w, p) for w in WITH_PARTS for p in w["part"]], ids=lambda p: p["name"])
def test_a_part_is_needed_where_it_is_defined_so(whole, part):
    missing = faults_of(parameter_of(whole, leave_out=part["name"]))
    assert ("parameter-required" in missing) == (part["min"] == 1)


def test_a_name_that_is_not_defined_is_refused():
    assert faults_of({"name": "asof", "valueInstant": "2026-03-02T08:00:00Z"}) == {"parameter-unknown"}

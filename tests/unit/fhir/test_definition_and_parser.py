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


def one_condition_each(defined: dict) -> list[dict]:
    """A what-if for each of its conditions, which contradict each other when all are sent together."""
    return [{**defined, "part": [part]} for part in defined["part"]] if defined["name"] == "what-if" else [defined]


DEFINED = [
    one for r in RESOURCES if r["resourceType"] == "OperationDefinition" and r["id"] == "plan-grafts"
    for p in r["parameter"] if p["use"] == "in" and p["name"] != "bundle" for one in one_condition_each(p)]
CODES = {r["url"]: r["compose"]["include"][0]["concept"] for r in RESOURCES if r["resourceType"] == "ValueSet"}
#: Names with a list of their own, which no binding can state.
NAMED = {"time-zone": "Europe/Vienna", "name": "rest-days"}
#: A decision that fits together; each single value of it is tried on its own below.
FITTING = {"act": "graft", "region": "thigh", "side": "left", "method": "meshed-1-2"}
SINGLE = [p for p in DEFINED if "part" not in p]


def parts_below(defined: dict) -> list[dict]:
    return [one for part in defined.get("part", []) for one in (part, *parts_below(part))]


PARTS = [(whole, part) for whole in DEFINED for part in parts_below(whole)]


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


def parameter_of(defined: dict, *, part: dict | None = None, instead: dict | None = None) -> dict:
    """What the definition allows; ``part``, at any depth, left out or with something instead."""
    if "part" not in defined:
        return value_of(defined)
    sent = [instead if one is part else parameter_of(one, part=part, instead=instead) for one in defined["part"]]
    return {"name": defined["name"], "part": [one for one in sent if one]}


def faults_of(*parameters: dict) -> set[str]:
    log = ReadLog()
    sent = [(f"Parameters.parameter[{index}]", parameter) for index, parameter in enumerate(parameters)]
    read_parameters(
        sent, as_of=None, now=datetime(2026, 3, 2, tzinfo=UTC), site_time_zone="Etc/UTC",
        code_map=load_code_map(BASE), log=log)
    return {fault.error_id for fault in log.faults}


def send(whole: dict, part: dict, value: dict) -> set[str]:
    return faults_of(value if whole is part else parameter_of(whole, part=part, instead=value))


ALL = [*((single, single) for single in SINGLE), *PARTS]
VALUES = [(whole, part) for whole, part in ALL if "type" in part]


def by_name(defined: dict) -> str:
    return defined["name"]


@pytest.mark.parametrize("defined", DEFINED, ids=by_name)
def test_what_is_defined_is_read(defined):
    assert faults_of(parameter_of(defined)) == set()


@pytest.mark.parametrize("defined", DEFINED, ids=by_name)
def test_as_often_as_is_defined_and_no_more(defined):
    twice = faults_of(parameter_of(defined), parameter_of(defined))
    assert twice == ({"parameter-twice"} if defined["max"] == "1" else set())


@pytest.mark.parametrize(("whole", "defined"), ALL, ids=by_name)
def test_another_type_is_refused(whole, defined):
    assert send(whole, defined, {"name": defined["name"], "valueUri": "urn:x"}) == {"parameter-value"}


@pytest.mark.parametrize(("whole", "defined"), [one for one in VALUES if bounds_of(one[1])], ids=by_name)
def test_the_bounds_that_are_stated_hold(whole, defined):
    sent = value_of(defined)
    key = next(name for name in sent if name.startswith("value"))
    for bound, beyond in zip(bounds_of(defined), (-1, 1), strict=True):
        for step, refused in ((0, False), (beyond, True)):
            number = Decimal(bound) + step
            if defined["type"] == "Quantity":
                value = sent[key] | {"value": number}
            else:
                value = int(number) if defined["type"] == "integer" else number
            assert bool(send(whole, defined, sent | {key: value})) == refused, (bound, step)


@pytest.mark.parametrize(("whole", "defined"), [one for one in VALUES if "binding" in one[1]], ids=by_name)
def test_the_codes_that_are_bound_are_those_that_are_read(whole, defined):
    def is_refused(code: str) -> bool:
        return "parameter-code" in send(whole, defined, {"name": defined["name"], "valueCode": code})

    assert [code for code in codes_of(defined) if is_refused(code)] == []
    assert is_refused("no-such-code")


@pytest.mark.parametrize(("whole", "part"), PARTS, ids=by_name)
def test_a_part_is_needed_where_it_is_defined_so(whole, part):
    missing = faults_of(parameter_of(whole, part=part))
    assert ("parameter-required" in missing) == (part["min"] == 1)


def test_a_name_that_is_not_defined_is_refused():
    assert faults_of({"name": "asof", "valueInstant": "2026-03-02T08:00:00Z"}) == {"parameter-unknown"}

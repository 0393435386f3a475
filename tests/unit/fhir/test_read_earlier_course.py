"""The plan before, read back: its sessions and areas; what of it is broken is left out, never a fault."""

from copy import deepcopy
from datetime import date
from decimal import Decimal

import pytest

from service.domain.case import Act
from service.fhir.read_case import examine_request
from service.fhir.read_result import ReadResult
from tests.builders import Resource, body_of, loaded
from tests.conftest import SAMPLES

SAMPLE = loaded((SAMPLES / "replanned-donor-still-healing.json").read_bytes())


def read(change=lambda kept: None) -> ReadResult:
    """The sample with each resource of its earlier plan changed."""
    request = deepcopy(SAMPLE)
    record = next(p["resource"] for p in request["parameter"] if p["name"] == "bundle")
    for entry in record["entry"]:
        if entry["resource"].get("intent") == "proposal":
            change(entry["resource"])
    return examine_request(body_of(request))


def only(resource_type: str, name: str, value: object):
    def change(resource: Resource) -> None:
        if resource["resourceType"] == resource_type:
            resource[name] = value
    return change


def test_days_and_areas_by_place():
    course = read().earlier_course
    first, second = course.outline.sessions
    assert (course.made_on, first.day, second.day) == (date(2026, 3, 19), date(2026, 3, 21), date(2026, 3, 24))
    assert first.by_place(Act.HARVEST) == {"right-thigh-front": Decimal("176.2")}
    assert first.by_place(Act.PLACE) == first.by_place(Act.EXCISE) == {"anterior-trunk": Decimal("166.9")}
    assert course.outline.ends == date(2026, 3, 30)
    assert course.asked_for.startswith("Theatre only on: 2026-03-21 Sat")


def test_without_its_tasks_only_the_skin_of_a_session_is_known():
    first, _ = read(only("Task", "status", "cancelled")).earlier_course.outline.sessions
    assert (first.harvested_cm2, first.areas_cm2) == (Decimal("176.2"), ())


def test_what_was_withdrawn_is_no_plan():
    assert read(lambda resource: resource.update(status="entered-in-error")).earlier_course is None


BROKEN = (None, [], {}, "text", 7, [None], [{}], {"period": "x"}, {"coding": [{"code": 5}]}, {"value": "x"})


@pytest.mark.parametrize("value", BROKEN)
@pytest.mark.parametrize(("resource_type", "name"), [
    ("Task", "input"), ("Task", "code"), ("Task", "restriction"), ("ServiceRequest", "occurrenceDateTime"),
    ("ServiceRequest", "quantityQuantity"), ("CarePlan", "created"), ("CarePlan", "period"), ("CarePlan", "note"),
])
def test_what_is_broken_is_left_out(resource_type, name, value):
    whole, result = read(), read(only(resource_type, name, value))
    assert result.earlier_course is None or result.earlier_course != whole.earlier_course
    assert result.faults == ()


def test_a_task_with_one_place_that_cannot_be_read_tells_nothing():
    def without_side(resource: Resource) -> None:
        for one in resource.get("input", ()):
            if one["type"].get("coding", [{}])[0].get("code") == "at-place":
                one["valueCodeableConcept"]["coding"] = one["valueCodeableConcept"]["coding"][:1]
    first, _ = read(without_side).earlier_course.outline.sessions
    assert first.by_place(Act.HARVEST) == {}

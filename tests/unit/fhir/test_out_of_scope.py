"""Refused by name: one sentence, no plan, nothing more asked for."""

import pytest

from service.settings import Settings
from service.wiring import answer_plan_request, answer_read_request, build_parts
from tests.builders import (
    body_of,
    bundle,
    burn_wound,
    grouped,
    local,
    needed,
    parameters,
    part_of,
    patient,
    placement,
)
from tests.unit.fhir_out.bundles import only, resources

PARTS = build_parts(Settings())
NAMES = {
    "frostbite": "Frostbite", "toxic-epidermal-necrolysis": "Toxic epidermal necrolysis",
    "cultured-cells": "cultured cells",
}
PLANNED = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue", "Observation")


def disease(code, **more):
    return {"resourceType": "Condition", "code": local(code), "subject": {"reference": "Patient/p1"}} | more


def status(element, code):
    system = f"http://terminology.hl7.org/CodeSystem/condition-{element}"
    return {"coding": [{"system": system, "code": code}]}


def cultured_graft():
    """A graft of cultured cells as a Procedure with its method."""
    done = placement("left thigh front", "2026-03-03", "g1", 100, "sheet")
    done[-1] = part_of("g1", "graft-method", seen="2026-03-03", valueCodeableConcept=local("cultured-cells"))
    return done


def request(*resources_sent, asked=(), complete=True):
    record = bundle(*(needed() if complete else [patient()]), *([burn_wound()] if complete else []), *resources_sent)
    sent = parameters(record)
    sent["parameter"] += asked
    return body_of(sent)


CULTURED_ONLY = {"name": "method-available", "valueCode": "cultured-cells"}
DECISION = grouped("fixed-decision", act=("Code", "place"), region=("Code", "thigh"), side=("Code", "left"),
                   method=("Code", "cultured-cells"))
REQUESTS = [
    ("frostbite", request(disease("frostbite"))),
    ("toxic-epidermal-necrolysis", request(disease("toxic-epidermal-necrolysis"))),
    ("cultured-cells", request(*cultured_graft())),
    ("cultured-cells", request(asked=[CULTURED_ONLY])),
    ("cultured-cells", request(asked=[CULTURED_ONLY, {"name": "method-available", "valueCode": "sheet"}])),
    ("cultured-cells", request(asked=[DECISION])),
    ("frostbite", request(disease("frostbite"), complete=False)),
]


@pytest.mark.parametrize(("name", "body"), REQUESTS)
def test_it_is_refused_by_name_in_one_sentence(name, body):
    made = answer_plan_request(PARTS, body)
    response = only(made.resource, "GuidanceResponse")
    assert response["status"] == "success"
    assert [r["coding"][0]["code"] for r in response["reasonCode"]] == ["no_plan", f"out-of-scope-{name}"]
    (note,) = response["note"]
    assert NAMES[name] in note["text"] and note["text"].count(".") == 1
    assert "dataRequirement" not in response and "result" not in response


@pytest.mark.parametrize(("name", "body"), REQUESTS)
def test_there_is_no_plan_in_any_form(name, body):
    made = answer_plan_request(PARTS, body)
    assert not [r for kind in PLANNED for r in resources(made.resource, kind)]
    assert NAMES[name] in made.text and "no plan is made" in made.text and "cm²" not in made.text
    assert made.summary["outcome"] == "no_plan"
    assert made.summary["finding_codes"] == [f"out-of-scope-{name}"]


@pytest.mark.parametrize(("name", "body"), REQUESTS)
def test_the_dry_run_says_so(name, body):
    made = answer_read_request(PARTS, body)
    assert made.resource["parameter"][0] == {"name": "can-plan", "valueBoolean": False}
    assert "out of scope" in made.text


@pytest.mark.parametrize("over", [
    {"verificationStatus": status("ver-status", "refuted")}, {"clinicalStatus": status("clinical", "resolved")}])
def test_a_disease_that_is_refuted_or_over_does_not_count(over):
    made = answer_plan_request(PARTS, request(disease("frostbite", **over)))
    assert resources(made.resource, "CarePlan")

"""Other plans, weights and limits in the answer over HTTP: in the CarePlan and as findings, never as a plan."""

import json
import re

import pytest

from tests.api.test_operations import FHIR, PLAN, resources_of
from tests.conftest import SAMPLES


@pytest.fixture(scope="module")
def answered(client):
    def ask(name: str) -> dict:
        return client.post(PLAN, content=(SAMPLES / f"{name}.json").read_bytes(), headers=FHIR).json()
    return ask


def test_other_plans_are_notes_of_the_one_care_plan(answered):
    answer = answered("adult-60-percent-first-plan")
    (care_plan,) = resources_of(answer, "CarePlan")
    notes = [note["text"] for note in care_plan["note"]]
    assert any(re.match("Other plans to choose from: [A-Z][a-z ]+", note) for note in notes)
    assert any(note.startswith("If other weights counted: ") for note in notes)
    assert "Other plans to choose from:" in care_plan["text"]["div"]


def test_what_keeps_wounds_open_is_an_issue(answered):
    issues = resources_of(answered("adult-85-percent"), "DetectedIssue")
    (issue,) = [i for i in issues if i["code"]["coding"][0]["code"] == "open-without-limits"]
    assert issue["severity"] == "high"
    assert "would still stay open in the best plan that was found" in issue["detail"]


def test_what_stands_against_a_decision_is_an_issue(client):
    asked = json.loads((SAMPLES / "fixed-decisions.json").read_bytes())
    for region, side in (("thigh", "left"), ("forearm", "left")):
        asked["parameter"].append({"name": "fixed-decision", "part": [
            {"name": "act", "valueCode": "place"}, {"name": "region", "valueCode": region},
            {"name": "side", "valueCode": side}, {"name": "date", "valueDate": "2026-03-11"}]})
    answer = client.post(PLAN, content=json.dumps(asked).encode(), headers=FHIR).json()
    codes = {i["code"]["coding"][0]["code"]: i["detail"] for i in resources_of(answer, "DetectedIssue")}
    assert "fixed-decision-infeasible" in codes
    assert not resources_of(answer, "CarePlan")

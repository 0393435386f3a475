"""The two operations through a real server: what callers send, and what they get back."""

import json
from datetime import UTC, datetime

import pytest

from tests import builders
from tests.conftest import ANSWERED_SAMPLES, REFUSED_SAMPLES, SAMPLES

PLAN = "/fhir/$plan-grafts"
READ = "/fhir/$read-burn-record"
FHIR = {"Content-Type": "application/fhir+json"}


def resources_of(bundle: dict, resource_type: str) -> list[dict]:
    return [e["resource"] for e in bundle["entry"] if e["resource"]["resourceType"] == resource_type]


def test_parameters_are_planned(client, first_plan_body):
    answer = client.post(PLAN, content=first_plan_body, headers=FHIR)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/fhir+json; charset=utf-8"
    bundle = answer.json()
    assert bundle["entry"][0]["resource"]["resourceType"] == "CarePlan"
    assert resources_of(bundle, "Task")


def test_a_bare_bundle_is_planned_as_of_now(client):
    today = datetime.now(UTC).date().isoformat()
    seen = [builders.measured(code, value, seen=today)
            for code, value in (("weight", 70), ("height", 175), ("haemoglobin", 13))]
    bundle = builders.bundle(
        builders.patient(), builders.burn(today), *seen, builders.burn_wound("left thigh front", "4.5", seen=today))
    answer = client.post(PLAN, content=builders.body_of(bundle), headers={"Content-Type": "application/json"})
    assert answer.status_code == 200
    assert resources_of(answer.json(), "CarePlan")


def test_the_same_request_gives_the_same_bytes(client, first_plan_body):
    first, second = (client.post(PLAN, content=first_plan_body, headers=FHIR) for _ in range(2))
    assert first.content == second.content


@pytest.mark.parametrize("sample", ANSWERED_SAMPLES, ids=lambda path: path.stem)
def test_every_sample_is_answered(client, sample):
    answer = client.post(PLAN, content=sample.read_bytes(), headers=FHIR)
    assert answer.status_code == 200
    without_plan = ("missing-weight", "comfort-care")
    assert bool(resources_of(answer.json(), "CarePlan")) == (sample.stem not in without_plan)


@pytest.mark.parametrize("sample", REFUSED_SAMPLES)
def test_a_sample_of_what_is_wrong_is_refused(client, sample):
    answer = client.post(PLAN, content=(SAMPLES / f"{sample}.json").read_bytes(), headers=FHIR)
    assert answer.status_code == 422
    assert len(answer.json()["issue"]) > 1
    assert "CarePlan" not in answer.text


def test_a_missing_weight_is_asked_for_not_guessed(client):
    body = (SAMPLES / "missing-weight.json").read_bytes()
    bundle = client.post(PLAN, content=body, headers=FHIR).json()
    response = resources_of(bundle, "GuidanceResponse")[0]
    assert response["status"] == "data-required"
    assert [r["type"] for r in response["dataRequirement"]] == ["Observation"]


def test_the_plan_can_be_read_as_text(client, first_plan_body):
    answer = client.post(PLAN, content=first_plan_body, headers=FHIR | {"Accept": "text/plain"})
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert "Session 1" in answer.text
    assert max(map(len, answer.text.splitlines())) <= 80


def test_pretty_asks_for_indented_json(client, first_plan_body):
    plain = client.post(PLAN, content=first_plan_body, headers=FHIR)
    pretty = client.post(f"{PLAN}?_pretty=true", content=first_plan_body, headers=FHIR)
    assert pretty.json() == plain.json()
    assert len(pretty.content.splitlines()) > len(plain.content.splitlines())


def test_a_trailing_slash_is_no_redirect(client, first_plan_body):
    assert client.post(f"{PLAN}/", content=first_plan_body, headers=FHIR).status_code == 200


def test_reading_reports_what_was_understood(client, first_plan_body):
    report = client.post(READ, content=first_plan_body, headers=FHIR).json()
    assert report["resourceType"] == "Parameters"
    named = {p["name"] for p in report["parameter"]}
    assert {"can-plan", "understood"} <= named
    assert report["parameter"][0]["valueBoolean"] is True


def test_the_reading_too_can_be_read_as_text(client, first_plan_body):
    answer = client.post(READ, content=first_plan_body, headers=FHIR | {"Accept": "text/plain"})
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert "nderstood" in answer.text


def test_reading_answers_also_what_cannot_be_planned(client, first_plan_body):
    wrong = first_plan_body.replace(b'"kg"', b'"stone"')
    assert client.post(PLAN, content=wrong, headers=FHIR).status_code == 422
    report = client.post(READ, content=wrong, headers=FHIR)
    assert report.status_code == 200
    assert report.json()["parameter"][0]["valueBoolean"] is False
    assert "wrong" in {p["name"] for p in report.json()["parameter"]}


def test_the_example_of_the_interactive_page_is_planned(client):
    body = json.dumps(client.get("/openapi.json").json()["paths"][PLAN]["post"]["requestBody"]["content"][
        "application/fhir+json"]["example"])
    answer = client.post(PLAN, content=body, headers=FHIR)
    assert answer.status_code == 200
    assert resources_of(answer.json(), "CarePlan")

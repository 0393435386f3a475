"""What if over HTTP: one entry more at the end, and not a byte of the plan otherwise."""

import json

import pytest

from service.fhir.json_text import dump
from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.api.test_operations import FHIR, PLAN, resources_of
from tests.conftest import FIRST_PLAN, SAMPLES

SAMPLE = SAMPLES / "what-if.json"


def with_condition(*parts: dict) -> bytes:
    asked = json.loads(FIRST_PLAN.read_bytes())
    asked["parameter"].append({"name": "what-if", "part": list(parts)})
    return json.dumps(asked).encode()


@pytest.fixture(scope="module")
def answered(client) -> dict:
    answer = client.post(PLAN, content=SAMPLE.read_bytes(), headers=FHIR)
    assert answer.status_code == 200
    return answer.json()


def test_the_what_if_is_the_last_entry_and_no_plan(answered):
    (what_if,) = resources_of(answered, "Parameters")
    assert answered["entry"][-1]["resource"] == what_if
    assert len(resources_of(answered, "CarePlan")) == 1
    named = [p["name"] for p in what_if["parameter"]]
    assert named[0] == "notice" and {"condition", "difference", "plan-of-record", "what-if"} <= set(named)


def test_nothing_of_the_plan_points_to_it(answered):
    *plan, what_if = answered["entry"]
    assert what_if["fullUrl"] not in json.dumps(plan)


def test_everything_else_but_the_hash_of_the_request_is_the_same_with_and_without_it():
    parts, body = build_parts(Settings()), FIRST_PLAN.read_bytes()
    beside = "what-if", {"name": "what-if", "part": [
        {"name": "exclude-site", "part": [{"name": "region", "valueCode": "scalp"}]}]}
    asked, usual = answer_plan_request(parts, body, beside=[beside]), answer_plan_request(parts, body)
    hashes = asked.read.input_sha256, usual.read.input_sha256
    *entries, _ = asked.resource["entry"]
    assert dump(entries).decode().replace(*hashes) == dump(usual.resource["entry"]).decode()


def test_figures_are_those_of_the_plans(answered):
    (what_if,) = resources_of(answered, "Parameters")
    figures = {p["name"]: p["part"] for p in what_if["parameter"] if "part" in p}
    sessions = [r for r in resources_of(answered, "ServiceRequest") if "occurrenceDateTime" in r]
    dates = [next(q["valueDate"] for q in p["part"] if q["name"] == "date")
             for p in figures["plan-of-record"] if p["name"] == "session"]
    assert dates == sorted({s["occurrenceDateTime"] for s in sessions})
    dropped = "2026-03-17"
    assert dropped in dates and dropped not in json.dumps(figures["what-if"])
    assert "left-lower-leg-back" in json.dumps(figures["plan-of-record"])
    assert "left-lower-leg-back" not in json.dumps(figures["what-if"])


def test_the_text_says_so_before_any_session(client):
    text = client.post(PLAN, content=SAMPLE.read_bytes(), headers=FHIR | {"Accept": "text/plain"}).text
    assert "This is not the plan" in text
    assert text.index("What if: no skin from left lower leg, back; no theatre on") < text.index("Session 1: ")


@pytest.mark.parametrize(("part", "error"), [
    ({"name": "drop-day", "valueDate": "2020-01-01"}, "what-if-changes-nothing"),
    ({"name": "session-area-limit", "valueDecimal": 90}, "parameter-range"),
    ({"name": "exclude-site", "part": [{"name": "region", "valueCode": "face"}]}, "what-if-no-donor-site"),
])
def test_what_makes_no_sense_is_refused_with_its_repair(client, part, error):
    answer = client.post(PLAN, content=with_condition(part), headers=FHIR)
    assert answer.status_code == 422
    (issue,) = answer.json()["issue"]
    assert error in json.dumps(issue) and "what-if" in issue["expression"][0] or "parameter[" in issue["expression"][0]


def test_a_decision_that_cannot_be_kept_is_an_answer_without_a_second_plan(client):
    part = {"name": "fixed-decision", "part": [
        {"name": "act", "valueCode": "place"}, {"name": "region", "valueCode": "scalp"}]}
    answer = client.post(PLAN, content=with_condition(part), headers=FHIR).json()
    (what_if,) = resources_of(answer, "Parameters")
    said = {p["name"]: p for p in what_if["parameter"]}
    assert said["outcome"]["valueCode"] == "no_plan" and "what-if" not in said
    assert any("cannot be kept" in p.get("valueString", "") for p in what_if["parameter"])
    assert resources_of(answer, "CarePlan")

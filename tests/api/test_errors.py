"""Every error is an OperationOutcome with its status, an id and a repair, and says nothing of the patient."""

import json

import pytest
from starlette.testclient import TestClient

from service.api import fhir_operations
from service.api.app import create_app
from service.fhir.faults import fault_catalogue
from service.settings import Settings

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}
SECRET = "a-name-that-must-not-leave"


def outcome_of(answer) -> dict:
    assert answer.headers["content-type"] == "application/fhir+json; charset=utf-8"
    outcome = answer.json()
    assert outcome["resourceType"] == "OperationOutcome"
    for issue in outcome["issue"]:
        assert issue["details"]["coding"][0]["code"]
        assert issue["details"]["text"] and issue["diagnostics"]
    return outcome


def error_ids(answer) -> list[str]:
    return [issue["details"]["coding"][0]["code"] for issue in outcome_of(answer)["issue"]]


@pytest.mark.parametrize(("method", "path", "headers", "body", "status", "error_id"), [
    ("GET", "/fhir/nothing-here", {}, None, 404, "path-not-found"),
    ("GET", "/fhir", {}, None, 404, "path-not-found"),
    ("GET", "/elsewhere", {}, None, 404, "path-not-found"),
    ("GET", "/fhir/CodeSystem/unknown", {}, None, 404, "resource-not-found"),
    ("GET", PLAN, {}, None, 405, "method-not-allowed"),
    ("DELETE", "/fhir/metadata", {}, None, 405, "method-not-allowed"),
    ("POST", PLAN, FHIR | {"Accept": "application/fhir+xml"}, b"{}", 406, "answer-not-acceptable"),
    ("GET", "/fhir/metadata?_format=xml", {}, None, 406, "answer-not-acceptable"),
    ("POST", PLAN, {"Content-Type": "application/fhir+xml"}, b"<a/>", 415, "media-type-not-supported"),
    ("POST", PLAN, FHIR | {"Content-Encoding": "br"}, b"\x1f\x8b", 415, "encoding-not-supported"),
    ("GET", "/fhir/ValueSet?name=region", {}, None, 400, "search-not-supported"),
    ("POST", PLAN, FHIR, b"", 400, "body-empty"),
    ("POST", PLAN, FHIR, b"{", 400, "not-json"),
    ("POST", PLAN, FHIR, b'{"resourceType":"Patient"}', 400, "root-not-accepted"),
])
def test_each_error_has_its_status(client, method, path, headers, body, status, error_id):
    answer = client.request(method, path, headers=headers, content=body)
    assert answer.status_code == status
    assert error_ids(answer) == [error_id]


def test_405_names_the_method_that_works(client):
    assert client.get(PLAN).headers["allow"] == "POST"


def test_all_faults_are_told_at_once(client, first_plan_body):
    sent = json.loads(first_plan_body)
    bundle = next(p["resource"] for p in sent["parameter"] if p["name"] == "bundle")
    observations = [e["resource"] for e in bundle["entry"] if "valueQuantity" in e["resource"]]
    for observation in observations[:3]:
        observation["valueQuantity"]["code"] = "furlong"
    answer = client.post(PLAN, json=sent, headers=FHIR)
    assert answer.status_code == 422
    issues = outcome_of(answer)["issue"]
    assert len({issue["expression"][0] for issue in issues}) >= 3


@pytest.mark.parametrize("stated_length", [True, False], ids=["stated", "streamed"])
def test_a_large_body_is_refused_before_it_is_read(first_plan_body, stated_length):
    small = TestClient(create_app(Settings(max_body_bytes=1_000)))
    body = first_plan_body if stated_length else (first_plan_body[i:i + 500] for i in range(0, 5_000, 500))
    answer = small.post(PLAN, content=body, headers=FHIR)
    assert answer.status_code == 413
    assert error_ids(answer) == ["body-too-large"]


def test_a_fault_of_ours_tells_no_detail_and_logs_no_value(monkeypatch, caplog, first_plan_body):
    def fail(*_, **__):
        raise KeyError(SECRET)

    monkeypatch.setattr(fhir_operations, "answer_plan_request", fail)
    answer = TestClient(create_app(Settings())).post(PLAN, content=first_plan_body, headers=FHIR)
    assert answer.status_code == 500
    assert error_ids(answer) == ["service-fault"]
    assert SECRET not in answer.text and SECRET not in caplog.text
    assert "KeyError at " in caplog.text


def test_when_the_queue_is_full_callers_are_told_to_come_back(monkeypatch, first_plan_body):
    app = create_app(Settings(concurrent_plans=1, waiting_plans=0))
    with TestClient(app) as http:
        answers = []

        def call_again(*arguments, **named):
            answers.append(http.post(PLAN, content=first_plan_body, headers=FHIR))
            return answer_plan_request(*arguments, **named)

        answer_plan_request = fhir_operations.answer_plan_request
        monkeypatch.setattr(fhir_operations, "answer_plan_request", call_again)
        assert http.post(PLAN, content=first_plan_body, headers=FHIR).status_code == 200
    assert answers[0].status_code == 429
    assert answers[0].headers["retry-after"]
    assert error_ids(answers[0]) == ["busy"]


def test_every_fault_speaks_to_a_person():
    for kind in fault_catalogue().values():
        assert kind.text[-1] in ".}" and kind.repair[-1] in ".}"

"""Health, log lines, pages, capabilities and conformance resources of a running service."""

import logging
import re

import pytest
from starlette.testclient import TestClient

from service import __version__
from service.api.app import create_app
from service.api.conformance import RESOURCE_TYPES
from service.settings import Settings

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}


@pytest.mark.parametrize("path", ["/livez", "/readyz", "/livez/"])
def test_probes_answer(client, path):
    assert client.get(path).status_code == 200
    assert client.head(path).status_code == 200


def test_a_log_line_holds_no_query_no_id_and_no_body(caplog, first_plan_body):
    with caplog.at_level(logging.INFO, "graftstage"):
        http = TestClient(create_app(Settings()))
        http.get("/fhir/CodeSystem/patient-4711?url=https://secret.example")
        http.post(PLAN, content=first_plan_body, headers=FHIR | {"X-Request-Id": "trace-1"})
    lines = [record.getMessage() for record in caplog.records if record.levelno == logging.INFO]
    assert any(re.fullmatch(r"GET /fhir/CodeSystem/\{resource_id\} 404 [0-9.]+ ms [0-9a-f-]{36}", x) for x in lines)
    assert any(re.fullmatch(r"POST /fhir/\$plan-grafts 200 [0-9.]+ ms trace-1", x) for x in lines)
    assert "4711" not in caplog.text and "secret" not in caplog.text


@pytest.mark.parametrize(("sent", "kept"), [("trace-1", True), ("two words", False), ("x" * 65, False)])
def test_every_answer_carries_a_request_id(client, sent, kept):
    given = client.get("/livez", headers={"X-Request-Id": sent}).headers["x-request-id"]
    assert (given == sent) == kept
    assert given


def test_capabilities_name_what_is_served(client):
    statement = client.get("/fhir/metadata").json()
    assert statement["fhirVersion"] == "4.0.1"
    assert statement["software"]["version"] == __version__
    assert {o["name"] for o in statement["rest"][0]["operation"]} >= {"plan-grafts", "read-burn-record"}
    assert {r["type"] for r in statement["rest"][0]["resource"]} == set(RESOURCE_TYPES)


def test_versions(client):
    parameters = client.get("/fhir/$versions").json()["parameter"]
    assert {"name": "default", "valueCode": "4.0"} in parameters


@pytest.mark.parametrize("resource_type", RESOURCE_TYPES)
def test_conformance_resources_are_read_by_id_and_found_by_url(client, resource_type):
    everything = client.get(f"/fhir/{resource_type}").json()
    assert everything["total"] == len(everything["entry"]) > 0
    for entry in everything["entry"]:
        resource = entry["resource"]
        assert client.get(f"/fhir/{resource_type}/{resource['id']}").json() == resource
        found = client.get(f"/fhir/{resource_type}", params={"url": resource["url"]}).json()
        assert [e["resource"]["id"] for e in found["entry"]] == [resource["id"]]
    assert client.get(f"/fhir/{resource_type}", params={"url": "https://other.example"}).json()["total"] == 0


def test_operation_definitions_stand_where_the_capabilities_say(client):
    for operation in client.get("/fhir/metadata").json()["rest"][0]["operation"]:
        assert client.get("/fhir/OperationDefinition", params={"url": operation["definition"]}).json()["total"] == 1


def test_the_pages_need_no_other_server(client):
    for path in ("/", "/docs"):
        page = client.get(path)
        assert page.status_code == 200
        assert not re.search(r'(src|href)="https?://', page.text)
    for asset in re.findall(r'(?:src|href)="(/docs/[^"]+)"', client.get("/docs").text):
        assert client.get(asset).status_code == 200


def test_the_landing_page_says_what_this_is_not(client):
    assert "Not a medical device" in client.get("/").text


def test_no_origin_may_call_unless_it_is_named():
    ask = {"Origin": "https://records.example.org", "Access-Control-Request-Method": "POST"}
    closed = TestClient(create_app(Settings()))
    assert "access-control-allow-origin" not in closed.options(PLAN, headers=ask).headers
    opened = TestClient(create_app(Settings(cors_origins=("https://records.example.org",))))
    assert opened.options(PLAN, headers=ask).headers["access-control-allow-origin"] == ask["Origin"]
    other = ask | {"Origin": "https://other.example.org"}
    assert "access-control-allow-origin" not in opened.options(PLAN, headers=other).headers

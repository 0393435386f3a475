"""Every form that clients send, through a real server: never a redirect, never a text of the framework."""

from __future__ import annotations

import json

import pytest

from tests.bad_input.raw_http import exchange

PLAN = "/fhir/$plan-grafts"
FHIR = {"Content-Type": "application/fhir+json"}
OUTCOME_FORM = "application/fhir+json; charset=utf-8"


@pytest.mark.parametrize("content_type", [
    "application/fhir+json", "application/fhir+json; charset=utf-8", "application/fhir+json;charset=UTF-8",
    'application/fhir+json; fhirVersion="4.0"', "application/fhir+json; fhirVersion=4.0.1; charset=utf-8",
    "application/json", "application/json; charset=utf-8", "APPLICATION/JSON", "text/json",
])
@pytest.mark.parametrize("accept", [
    None, "*/*", "application/json", "application/fhir+json, */*; q=0.1", "application/fhir+json;fhirVersion=4.0",
])
def test_what_clients_send_is_understood(client, content_type, accept):
    headers = {"Content-Type": content_type} | ({"Accept": accept} if accept else {})
    answer = client.post("/fhir/$read-burn-record", content=b'{"resourceType":"Bundle","type":"collection"}',
                         headers=headers)
    assert answer.status_code == 422
    assert answer.json()["issue"][0]["details"]["coding"][0]["code"] == "bundle-empty"
    form = "application/json" if accept == "application/json" else "application/fhir+json"
    assert answer.headers["content-type"] == f"{form}; charset=utf-8"


@pytest.mark.parametrize(("query", "form"), [
    ("_format=json", "application/fhir+json"), ("_format=application/fhir%2Bjson", "application/fhir+json"),
    ("_format=application/fhir+json", "application/fhir+json"), ("_format=text/json", "text/json"),
    ("_format=application/json&_pretty=true", "application/json"),
])
def test_the_query_may_ask_for_a_form(client, query, form):
    answer = client.get(f"/fhir/metadata?{query}", headers={"Accept": "application/fhir+xml"})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == f"{form}; charset=utf-8"
    assert answer.text.startswith("{\n") == ("_pretty" in query)


@pytest.mark.parametrize("query", ["_format=xml", "_format=", "_format=a%0D%0Ab", "_format=%00"])
def test_a_form_that_is_none_is_406_or_the_usual_one(client, query):
    answer = client.get(f"/fhir/metadata?{query}")
    assert answer.status_code == (200 if query == "_format=" else 406)


@pytest.mark.parametrize("path", ["/fhir/metadata", "/fhir/$versions", "/fhir/ValueSet", "/livez", "/readyz", "/docs"])
def test_head_is_get_without_the_body(client, path):
    got, head = client.get(path), client.head(path)
    assert head.status_code == got.status_code == 200
    assert head.content == b"" and head.headers["content-length"] == got.headers["content-length"]
    assert head.headers["content-type"] == got.headers["content-type"]


@pytest.mark.parametrize(("path", "allowed"), [
    (PLAN, "POST"), (f"{PLAN}/", "POST"), ("/fhir/metadata", "GET, HEAD"), ("/fhir/CodeSystem/error-ids", "GET, HEAD")])
def test_options_and_405_name_the_methods(client, path, allowed):
    asked = client.options(path)
    assert (asked.status_code, asked.headers["allow"], asked.content) == (204, allowed, b"")
    wrong = client.request("PATCH", path)
    assert (wrong.status_code, wrong.headers["allow"]) == (405, allowed)
    assert wrong.json()["issue"][0]["details"]["coding"][0]["code"] == "method-not-allowed"


def test_options_of_nothing_is_404(client):
    assert client.options("/fhir/nothing").status_code == 404


@pytest.mark.parametrize("path", ["/fhir/metadata/", "/fhir/$versions//", "/fhir/ValueSet/"])
def test_a_slash_at_the_end_is_no_redirect(client, path):
    assert client.get(path, follow_redirects=False).status_code == 200


@pytest.mark.parametrize("path", [
    "/fhir", "/fhir/", "/fhir/Patient", "/fhir/Patient/1", "/fhir/.well-known/smart-configuration", "/fhir/%00",
    "/fhir/..%2f..%2fetc%2fpasswd", "/fhir/ValueSet/%E2%80%AE", "/fhir/$plan-grafts/more", "/nothing"])
@pytest.mark.parametrize("accept", ["text/html", "application/fhir+json"])
def test_what_is_not_there_is_told_in_fhir(client, path, accept):
    answer = client.get(path, headers={"Accept": accept})
    assert answer.status_code in (404, 406)
    assert answer.headers["content-type"] == OUTCOME_FORM
    assert answer.json()["resourceType"] == "OperationOutcome"


@pytest.mark.parametrize("request_bytes", [
    b"no request\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n",
    b"POST /fhir/$plan-grafts HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
    b"POST /fhir/$plan-grafts HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n",
])
def test_bytes_that_are_no_request_are_told_so_in_fhir(server_address, request_bytes):
    status, headers, outcome = exchange(server_address, [request_bytes])
    assert status == 400
    assert headers["content-type"] == OUTCOME_FORM and headers["connection"] == "close"
    assert outcome["issue"][0]["details"]["coding"][0]["code"] == "not-http"


def test_a_head_without_end_is_431(server_address):
    status, headers, outcome = exchange(server_address, [b"GET /" + b"a" * 200_000])
    assert status == 431 and headers["connection"] == "close"
    assert outcome["issue"][0]["details"]["coding"][0]["code"] == "headers-too-large"


@pytest.mark.parametrize("headers", [{"X-Long": "a" * 20_000}, {f"X-{n}": "a" * 500 for n in range(40)}])
def test_headers_beyond_the_cap_are_431(client, headers):
    answer = client.get("/fhir/metadata", headers=headers)
    assert answer.status_code == 431
    assert answer.json()["issue"][0]["code"] == "too-long"


def test_a_query_beyond_the_cap_is_431(client):
    assert client.get(f"/fhir/metadata?x={'a' * 20_000}").status_code == 431


def test_a_request_for_a_read_may_be_repeated_under_its_key(client, first_plan_body):
    keyed = FHIR | {"Idempotency-Key": "one"}
    answers = [client.post(PLAN, content=first_plan_body, headers=keyed) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert json.loads(answers[0].content) == json.loads(answers[1].content)

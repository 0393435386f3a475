"""Lines 14 to 24, 70, 114, 115 and 149 to 152: what is decided before, beside or after the reading of a record."""

from __future__ import annotations

import gzip
import json
import socket
import tracemalloc
import zlib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from threading import Event, Thread
from time import perf_counter, sleep

import pytest
from starlette.testclient import TestClient

from service import plan_grafting
from service.api import fhir_operations
from service.api.app import create_app
from service.domain.plan import PlanOutcome
from service.domain.rule import Rule
from service.settings import Settings
from service.verification.violation import Violation
from tests import builders as make
from tests.bad_input.raw_http import PLAN_HEAD, exchange
from tests.conftest import serve

PLAN = "/fhir/$plan-grafts"
READ = "/fhir/$read-burn-record"
FHIR = {"Content-Type": "application/fhir+json"}
XML = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "http://planted.example/e">]><Bundle>&e;</Bundle>'
RECORD = make.body_of(make.record(make.burn_wound()))
MOST_BYTES = 8_000_000

#: Line, status, and issue code of every case here, for the test that the catalogue is whole.
ANSWERED: list[tuple[int, int, str]] = []


def line(number: int, *answers: tuple[int, str]) -> Callable[[Callable], Callable]:
    """Says which line of the catalogue a test is about, and what it asserts."""
    ANSWERED.extend((number, status, told) for status, told in answers)
    return lambda test: test


def said(outcome: dict) -> tuple[str, str]:
    """Issue code and error id of the one issue, which also says what to do."""
    (issue,) = outcome["issue"]
    assert outcome["resourceType"] == "OperationOutcome" and issue["diagnostics"]
    return issue["code"], issue["details"]["coding"][0]["code"]


def frame_of_spaces(megabytes: int) -> bytes:
    """A gzip frame made without the body that it holds."""
    packer = zlib.compressobj(wbits=31)
    return b"".join(packer.compress(b" " * 1_000_000) for _ in range(megabytes)) + packer.flush()


HEADERS = [
    (14, "POST", {"Content-Type": "text/xml"}, b"<Bundle/>", 415, "not-supported", "media-type-not-supported"),
    (14, "POST", {"Content-Type": "application/fhir+xml"}, b"<a/>", 415, "not-supported", "media-type-not-supported"),
    (16, "POST", {}, RECORD, 415, "not-supported", "media-type-not-supported"),
    (17, "POST", FHIR | {"Accept": "application/fhir+xml"}, RECORD, 406, "not-supported", "answer-not-acceptable"),
    (18, "POST", FHIR | {"Accept": "application/fhir+json; fhirVersion=5.0"}, RECORD, 406, "not-supported",
     "answer-not-acceptable"),
    (18, "POST", {"Content-Type": "application/fhir+json; fhirVersion=5.0"}, RECORD, 415, "not-supported",
     "media-type-not-supported"),
    (24, "GET", FHIR, RECORD, 405, "not-supported", "method-not-allowed"),
    (24, "PUT", FHIR, RECORD, 405, "not-supported", "method-not-allowed"),
]
ANSWERED.extend((case[0], case[4], case[5]) for case in HEADERS)


@pytest.mark.parametrize(("number", "method", "headers", "body", "status", "issue_code", "error_id"), HEADERS)
def test_headers_and_methods(client, number, method, headers, body, status, issue_code, error_id):
    answer = client.request(method, PLAN, headers=headers, content=body)
    assert answer.status_code == status
    assert said(answer.json()) == (issue_code, error_id)
    assert status != 405 or answer.headers["allow"] == "POST"


@line(15, (415, "not-supported"))
def test_an_outside_entity_is_not_fetched(monkeypatch):
    def refuse(*_):
        raise AssertionError("a call to the outside")

    http = TestClient(create_app(Settings()))
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    answer = http.post(PLAN, content=XML, headers={"Content-Type": "application/fhir+xml"})
    assert answer.status_code == 415
    assert "planted" not in answer.text


@line(19, (413, "too-long"))
def test_a_small_frame_of_a_huge_body_stays_small(client):
    frame = frame_of_spaces(400)
    assert len(frame) < 500_000
    tracemalloc.start()
    answer = client.post(PLAN, content=frame, headers=FHIR | {"Content-Encoding": "gzip"})
    _, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert answer.status_code == 413
    assert said(answer.json()) == ("too-long", "body-too-large")
    assert peak_bytes < 5 * MOST_BYTES


def test_a_gzip_body_is_read_and_a_broken_one_refused(client):
    frame, packed = gzip.compress(RECORD), FHIR | {"Content-Encoding": "gzip"}
    assert client.post(PLAN, content=frame, headers=packed).status_code == 200
    for broken in (frame[:-9], frame + b"more", b"no gzip", RECORD):
        answer = client.post(PLAN, content=broken, headers=packed)
        assert answer.status_code == 400
        assert said(answer.json()) == ("structure", "body-not-gzip")


@line(20, (413, "too-long"))
def test_a_stated_length_over_the_cap_is_refused_unread(server_address):
    status, headers, outcome = exchange(server_address, [PLAN_HEAD + b"Content-Length: 99000000\r\n\r\n{"])
    assert (status, *said(outcome)) == (413, "too-long", "body-too-large")
    assert headers["content-type"] == "application/fhir+json; charset=utf-8"


@line(21, (413, "too-long"))
def test_chunks_that_pass_the_cap_are_refused_midway(server_address):
    sent = 0

    def chunks():
        nonlocal sent
        yield PLAN_HEAD + b"Transfer-Encoding: chunked\r\n\r\n"
        while sent < 100 * MOST_BYTES:
            sent += 1_000_000
            yield b"f4240\r\n" + b" " * 1_000_000 + b"\r\n"

    status, _, outcome = exchange(server_address, chunks())
    assert (status, *said(outcome)) == (413, "too-long", "body-too-large")
    assert sent < 10 * MOST_BYTES


@line(22, (408, "timeout"))
def test_a_body_that_trickles_in_is_given_up():
    def trickle():
        yield PLAN_HEAD + b"Content-Length: 1000\r\n\r\n"
        for _ in range(20):
            sleep(0.1)
            yield b" "

    with serve(Settings(body_seconds=0.5)) as address:
        status, headers, outcome = exchange(address, trickle())
    assert (status, *said(outcome)) == (408, "timeout", "body-too-slow")
    assert headers["connection"] == "close"


@line(23, (400, "structure"))
def test_a_length_stated_two_ways_is_refused(server_address):
    both = b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n"
    status, _, outcome = exchange(server_address, [PLAN_HEAD + both])
    assert (status, *said(outcome)) == (400, "structure", "length-stated-twice")


@line(70, (422, "business-rule"), (200, "informational"))
def test_the_clock_of_the_service_is_never_taken_unsaid(client):
    def body_seen(day: datetime) -> bytes:
        seen = day.date().isoformat()
        measured = [make.measured(code, value, seen=seen)
                    for code, value in (("weight", 70), ("height", 175), ("haemoglobin", 13))]
        return make.body_of(make.bundle(make.patient(), make.burn(), *measured, make.burn_wound(seen=seen)))

    now = datetime.now(UTC)
    today = client.post(PLAN, content=body_seen(now), headers=FHIR)
    assert today.status_code == 200 and '"as-of-from-clock"' in today.text
    ahead = client.post(PLAN, content=body_seen(now + timedelta(days=2)), headers=FHIR)
    assert ahead.status_code == 422
    assert {issue["details"]["coding"][0]["code"] for issue in ahead.json()["issue"]} == {"date-in-future"}


@line(114, (200, ""))
def test_without_time_to_search_the_answer_says_what_it_is(client, first_plan_body):
    sent = json.loads(first_plan_body)
    sent["parameter"].append({"name": "seconds", "valueDecimal": 0.05})
    started = perf_counter()
    answer = client.post(PLAN, json=sent, headers=FHIR)
    assert answer.status_code == 200 and perf_counter() - started < 20
    guidance = next(e["resource"] for e in answer.json()["entry"]
                    if e["resource"]["resourceType"] == "GuidanceResponse")
    assert guidance["reasonCode"][0]["coding"][0]["code"] in {PlanOutcome.BEST_FOUND, PlanOutcome.RULE_OF_THUMB}
    assert "these weights and expected values" in guidance["note"][0]["text"]


@line(115, (503, "exception"))
def test_a_plan_that_fails_verification_does_not_leave(monkeypatch):
    def refuse(*_):
        return (Violation(Rule.SKIN_BALANCE, "", 0),)

    monkeypatch.setattr(plan_grafting, "verify_plan", refuse)
    answer = TestClient(create_app(Settings())).post(PLAN, content=RECORD, headers=FHIR)
    assert answer.status_code == 503
    assert said(answer.json()) == ("exception", "plan-withheld")
    assert "CarePlan" not in answer.text


@line(149, (429, "throttled"))
def test_too_many_plans_are_turned_away_while_health_answers(monkeypatch):
    go_on, planned = Event(), fhir_operations.answer_plan_request

    def wait_and_plan(*arguments, **named):
        go_on.wait(20)
        return planned(*arguments, **named)

    monkeypatch.setattr(fhir_operations, "answer_plan_request", wait_and_plan)
    answers = []
    with TestClient(create_app(Settings(concurrent_plans=2, waiting_plans=3))) as http:
        callers = [Thread(target=lambda: answers.append(http.post(PLAN, content=RECORD, headers=FHIR)))
                   for _ in range(200)]
        for caller in callers:
            caller.start()
        while len(answers) < 195:
            sleep(0.01)
        assert http.get("/livez").status_code == http.get("/readyz").status_code == 200
        go_on.set()
        for caller in callers:
            caller.join()
    turned_away = [answer for answer in answers if answer.status_code == 429]
    assert len(turned_away) == 195
    assert said(turned_away[0].json()) == ("throttled", "busy") and turned_away[0].headers["retry-after"]
    assert [answer.status_code for answer in answers].count(200) == 5


@line(150, (409, "conflict"))
def test_a_key_is_for_one_request():
    http, keyed = TestClient(create_app(Settings())), FHIR | {"Idempotency-Key": "planted-key"}
    first, again = (http.post(PLAN, content=RECORD, headers=keyed) for _ in range(2))
    assert first.status_code == 200 and first.content == again.content
    for path, body in ((PLAN, RECORD + b" "), (READ, RECORD)):
        answer = http.post(path, content=body, headers=keyed)
        assert answer.status_code == 409
        assert said(answer.json()) == ("conflict", "idempotency-key-reused")
        assert "planted" not in answer.text


@line(151, (400, "security"), (200, ""))
def test_a_host_that_is_not_ours_changes_nothing():
    spoofed = FHIR | {"Host": "planted.example"}
    open_to_any = TestClient(create_app(Settings()))
    plain, spoof = (open_to_any.post(PLAN, content=RECORD, headers=h) for h in (FHIR, spoofed))
    assert plain.content == spoof.content
    closed = TestClient(create_app(Settings(allowed_hosts=("plans.example.org",))))
    answer = closed.post(PLAN, content=RECORD, headers=spoofed)
    assert answer.status_code == 400
    assert said(answer.json()) == ("security", "host-not-allowed")
    for host in ("plans.example.org", "Plans.example.org:8443"):
        assert closed.get("/livez", headers={"Host": host}).status_code == 200


@line(152, (400, "not-supported"))
def test_an_unknown_parameter_is_told_to_who_wants_to_know(client):
    strict = FHIR | {"Prefer": "respond-async; handling=strict"}
    answer = client.post(f"{PLAN}?planted=1", content=RECORD, headers=strict)
    assert answer.status_code == 400
    assert said(answer.json()) == ("not-supported", "query-parameter-unknown")
    assert "planted" not in answer.text
    assert client.post(f"{PLAN}?planted=1", content=RECORD, headers=FHIR).status_code == 200
    assert client.post(f"{PLAN}?_pretty=true", content=RECORD, headers=strict).status_code == 200


@pytest.mark.parametrize("attempt", range(10))
def test_a_refusal_reaches_a_client_that_is_still_sending(client, attempt):
    """The answer must not be lost because the connection closes on data that nobody read."""
    answer = client.post(PLAN, content=b"{" + b" " * 20_000_000, headers={"Content-Type": "application/fhir+json"})
    assert answer.status_code == 413
    assert answer.json()["issue"][0]["details"]["coding"][0]["code"] == "body-too-large"

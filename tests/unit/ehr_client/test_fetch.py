"""What is asked of a record, what is not, and what comes back."""

import json
from urllib.parse import parse_qs, urlsplit

import pytest

from service.ehr_client import fetch
from service.settings import Settings
from tests.loopback import answer, run_loopback

QUERIES = {"patient": "Patient/p1", "wounds": "Observation?patient=p1&code=a|b", "acts": "Procedure?patient=p1"}
PATIENT = {"resourceType": "Patient", "id": "p1"}


def bundle(*ids: str, **more) -> dict:
    entries = [{"resource": {"resourceType": "Observation", "id": one}} for one in ids]
    return {"resourceType": "Bundle", "type": "searchset"} | ({"entry": entries} if ids else {}) | more


def further(url: str) -> dict:
    return {"link": [{"relation": "self", "url": "here"}, {"relation": "next", "url": url}]}


def respond(request) -> None:
    """Two pages of Observations, one Patient, no Procedure."""
    address = urlsplit(request.path)
    server = f"http://{request.headers['Host']}/fhir"
    if address.path == "/fhir/Patient/p1":
        found = PATIENT
    elif address.path == "/fhir/Observation":
        found = (bundle("o2") if "page" in parse_qs(address.query)
                 else bundle("o1", **further(f"{server}/Observation?page=2")))
    elif address.path == "/fhir/Procedure":
        found = bundle()
    else:
        found = {"resourceType": "OperationOutcome"}
    answer(json.dumps(found).encode())(request)


@pytest.fixture
def record():
    with run_loopback(respond) as server:
        yield server


def settings_for(address: str) -> Settings:
    return Settings(record_servers=(f"{address}/fhir",))


def hook(address: str, **parts) -> dict:
    return {"fhirServer": f"{address}/fhir", **parts}


def test_what_is_missing_is_fetched_with_all_its_pages(record):
    got = fetch.fetch_prefetch(settings_for(record.address), hook(record.address), QUERIES)
    assert got["patient"] == PATIENT
    assert [entry["resource"]["id"] for entry in got["wounds"]["entry"]] == ["o1", "o2"]
    assert got["wounds"]["link"] == [{"relation": "self", "url": "here"}]
    assert got["acts"] == bundle()


def test_what_was_sent_stays_as_it_is_also_as_null(record):
    sent = {"patient": PATIENT | {"active": True}, "acts": None}
    got = fetch.fetch_prefetch(settings_for(record.address), hook(record.address, prefetch=sent), QUERIES)
    assert got["patient"] == sent["patient"] and got["acts"] is None and "wounds" in got
    assert not any("Patient" in path or "Procedure" in path for path, _ in record.asked)


def test_nothing_is_asked_when_nothing_is_missing(record):
    sent = {key: None for key in QUERIES}
    assert fetch.fetch_prefetch(settings_for(record.address), hook(record.address, prefetch=sent), QUERIES) == sent
    assert record.asked == []


def test_pages_of_a_bundle_that_was_sent_are_fetched(record):
    sent = {"wounds": bundle("o1", **further(f"{record.address}/fhir/Observation?page=2"))}
    got = fetch.fetch_prefetch(settings_for(record.address), hook(record.address, prefetch=sent), QUERIES)
    assert [entry["resource"]["id"] for entry in got["wounds"]["entry"]] == ["o1", "o2"]
    assert [link["relation"] for link in got["wounds"]["link"]] == ["self"]


@pytest.mark.parametrize("server", [
    "", "http://169.254.169.254/fhir", "https://record.example/fhir", "{address}", "{address}/fhir/../fhir",
    "{address}/fhir@other.example", "{address}/FHIR", "file:///etc/passwd"])
def test_147_another_server_than_the_listed_is_never_called(record, server):
    call = {"fhirServer": server.format(address=record.address)}
    assert fetch.fetch_prefetch(settings_for(record.address), call, QUERIES) == {}
    assert record.asked == []


def test_without_the_setting_nobody_is_called(record):
    assert fetch.fetch_prefetch(Settings(), hook(record.address), QUERIES) == {}
    assert record.asked == []


@pytest.mark.parametrize("elsewhere", [
    "http://169.254.169.254/latest", "//other.example/fhir/Observation", "{address}/other", "{address}/fhir/../admin",
    "{address}/fhir/%2e%2e/admin", "{address}/fhirs/Observation", "http://u@{host}/fhir/Observation"])
def test_a_further_page_elsewhere_is_not_followed_and_the_query_brings_nothing(elsewhere):
    def lead_away(request) -> None:
        host = request.headers["Host"]
        url = elsewhere.format(address=f"http://{host}", host=host)
        answer(json.dumps(bundle("o1", **further(url))).encode())(request)

    with run_loopback(lead_away) as server:
        got = fetch.fetch_prefetch(settings_for(server.address), hook(server.address), {"wounds": "Observation?a=b"})
    assert got == {} and len(server.asked) == 1


def test_pages_without_end_are_given_up(monkeypatch):
    monkeypatch.setattr(fetch, "MOST_PAGES", 3)
    endless = answer(json.dumps(bundle("o1", **further("Observation?more"))).encode())
    with run_loopback(endless) as server:
        got = fetch.fetch_prefetch(settings_for(server.address), hook(server.address), {"wounds": "Observation?a=b"})
    assert got == {} and len(server.asked) == 3


@pytest.mark.parametrize("respond_badly", [
    answer(b"{}", 404), answer(b"not json"), answer(b'{"a":1,"a":2}'), answer(b"", 302, {"Location": "/elsewhere"}),
    answer(b"[" * 1000)])
def test_a_query_that_fails_leaves_its_key_absent(respond_badly, caplog):
    with run_loopback(respond_badly) as server:
        assert fetch.fetch_prefetch(settings_for(server.address), hook(server.address), QUERIES) == {}
    assert "127.0.0.1" not in caplog.text and "p1" not in caplog.text


def test_the_token_of_the_hook_goes_with_each_query_and_into_no_log(record, caplog):
    brought = {"access_token": "planted.token", "token_type": "Bearer", "scope": "patient/*.read"}
    fetch.fetch_prefetch(settings_for(record.address), hook(record.address, fhirAuthorization=brought), QUERIES)
    assert {headers["authorization"] for _, headers in record.asked} == {"Bearer planted.token"}
    assert "planted" not in caplog.text


def test_a_type_that_the_token_does_not_open_is_not_asked_for(record):
    brought = {"access_token": "t", "token_type": "Bearer", "scope": "user/Patient.read user/Observation.rs?code=a"}
    got = fetch.fetch_prefetch(settings_for(record.address), hook(record.address, fhirAuthorization=brought), QUERIES)
    assert set(got) == {"patient"}
    assert [path for path, _ in record.asked] == ["/fhir/Patient/p1"]


@pytest.mark.parametrize("brought", [
    {}, {"access_token": "a\r\nX: y", "token_type": "Bearer"}, {"access_token": "t", "token_type": "MAC"},
    {"access_token": 7, "token_type": "Bearer"}])
def test_what_is_no_bearer_token_is_not_sent(record, brought):
    call = hook(record.address, fhirAuthorization=brought)
    assert fetch.fetch_prefetch(settings_for(record.address), call, QUERIES) == {}
    assert record.asked == []


def test_all_queries_together_have_their_time(record, monkeypatch):
    monkeypatch.setattr(fetch, "SECONDS", 0.0)
    assert fetch.fetch_prefetch(settings_for(record.address), hook(record.address), QUERIES) == {}

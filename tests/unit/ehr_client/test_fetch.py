"""What is asked of a record, what is not, and what comes back."""

import json
from dataclasses import replace

import pytest

from service.ehr_client import fetch
from service.fhir.read_hook import HookRequest, RecordUnreachable
from service.settings import Settings
from tests.loopback import answer, run_loopback

PATIENT = {"resourceType": "Patient", "id": "p1"}
QUERY = "Observation?patient=p1&code=http://a|b,c&_count=1000"


@pytest.fixture
def record():
    with run_loopback(answer(json.dumps(PATIENT).encode())) as server:
        yield server


def settings_for(address: str) -> Settings:
    return Settings(record_servers=(f"{address}/fhir",))


def hook(address: str, **parts) -> HookRequest:
    plain = HookRequest("patient-view", "", "p1", f"{address}/fhir", None, {}, [], {})
    return replace(plain, **parts)


def reader_for(address: str, **parts):
    return fetch.open_record(settings_for(address), hook(address, **parts))


def test_a_query_brings_what_the_record_answers(record):
    read = reader_for(record.address)
    assert read("Patient/p1") == PATIENT and read(QUERY) == PATIENT
    assert [path for path, _ in record.asked] == ["/fhir/Patient/p1", f"/fhir/{QUERY}"]
    assert all("authorization" not in headers for _, headers in record.asked)


def test_numbers_keep_their_text():
    with run_loopback(answer(b'{"value":12.50}')) as server:
        assert str(reader_for(server.address)("Observation?a=b")["value"]) == "12.50"


@pytest.mark.parametrize("server", [
    None, "", "http://169.254.169.254/fhir", "https://record.example/fhir", "{address}", "{address}/fhir/",
    "{address}/fhir/../fhir", "{address}/fhir@other.example", "{address}/FHIR", "file:///etc/passwd"])
def test_147_another_server_than_the_listed_is_never_called(record, server):
    asked = hook(record.address, fhir_server=server and server.format(address=record.address))
    assert fetch.open_record(settings_for(record.address), asked) is None
    assert fetch.open_record(Settings(), hook(record.address)) is None


@pytest.mark.parametrize("address", [
    "http://169.254.169.254/latest", "//other.example/fhir/Observation", "{address}/other", "{address}/fhir/../admin",
    "{address}/fhir/%2e%2e/admin", "{address}/fhirs/Observation", "http://u@{host}/fhir/Observation", "/admin",
    "../admin", "\\\\other.example"])
def test_an_address_elsewhere_is_not_followed(record, address):
    host = record.address.removeprefix("http://")
    with pytest.raises(RecordUnreachable):
        reader_for(record.address)(address.format(address=record.address, host=host))
    assert record.asked == []


@pytest.mark.parametrize("address", ["{address}/fhir?_getpages=7", "{address}/fhir/Observation?page=2", "?_getpages=7"])
def test_a_further_page_of_the_same_server_is(record, address):
    assert reader_for(record.address)(address.format(address=record.address)) == PATIENT


@pytest.mark.parametrize("respond_badly", [
    answer(b"{}", 404), answer(b"planted"), answer(b'{"a":1,"a":2}'), answer(b"", 302, {"Location": "/elsewhere"}),
    answer(b"[" * 1000)])
def test_what_is_no_answer_is_said_without_a_value(respond_badly, caplog):
    with run_loopback(respond_badly) as server, pytest.raises(RecordUnreachable):
        reader_for(server.address)("Patient/p1")
    assert "brought nothing" in caplog.text
    assert not any(word in caplog.text for word in ("127.0.0.1", "p1", "planted"))


def test_the_token_of_the_hook_goes_along_and_into_no_log(record, caplog):
    read = reader_for(record.address, access_token="planted.token", access_scope="patient/*.read")
    read("Patient/p1")
    assert [headers["authorization"] for _, headers in record.asked] == ["Bearer planted.token"]
    assert "planted" not in caplog.text + repr(hook("", access_token="planted.token"))


def test_a_type_that_the_token_does_not_open_is_not_asked_for(record):
    read = reader_for(record.address, access_token="t", access_scope="user/Patient.read user/Observation.rs?code=a")
    assert read("Patient/p1") == PATIENT
    for address in (QUERY, f"{record.address}/fhir?page=2"):
        with pytest.raises(RecordUnreachable):
            read(address)
    assert len(record.asked) == 1


@pytest.mark.parametrize("token", ["a\r\nX: y", "tökén"])
def test_what_cannot_stand_in_a_header_is_not_sent(record, token):
    with pytest.raises(RecordUnreachable):
        reader_for(record.address, access_token=token)("Patient/p1")
    assert record.asked == []


@pytest.mark.parametrize(("name", "value"), [("SECONDS", 0.0), ("MOST_BYTES", 20)])
def test_everything_read_for_a_hook_has_its_time_and_size(record, monkeypatch, name, value):
    monkeypatch.setattr(fetch, name, value)
    with pytest.raises(RecordUnreachable):
        reader_for(record.address)("Patient/p1")

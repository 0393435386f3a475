"""Called back for missing data: a FHIR server of another make, and an authorization server of another make."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator

import httpx2 as httpx
import pytest
from joserfc.jwk import ECKey, RSAKey

from service.ehr_client.client_key import read_client_key
from service.ehr_client.fetch import fetch_prefetch
from service.settings import Settings
from tests import builders as make
from tests.contract.issuer import Issuer, run_issuer
from tests.contract.validators import require_validators, run_store

QUERIES = {"patient": "Patient/{id}", "wounds": "Observation?subject=Patient/{id}", "conditions": "Condition?_count=10"}


@pytest.fixture(scope="module")
def issuer() -> Iterator[Issuer]:
    with run_issuer() as running:
        yield running


@pytest.fixture(scope="module")
def record() -> Iterator[tuple[str, dict[str, str]]]:
    """A record with one patient and one wound: its address, and what to ask it."""
    require_validators()
    with run_store() as address, httpx.Client(base_url=address, trust_env=False) as http:
        headers = {"Content-Type": "application/fhir+json"}
        patient = http.post("/Patient", json={"resourceType": "Patient", "active": True}, headers=headers).json()
        wound = json.loads(make.body_of(make.burn_wound())) | {
            "subject": {"reference": f"Patient/{patient['id']}"}}
        wound.pop("id", None)
        assert http.post("/Observation", json=wound, headers=headers).status_code == 201
        yield address, {key: query.format(id=patient["id"]) for key, query in QUERIES.items()}


@pytest.fixture(params=["ES384", "RS384"])
def settings(request, issuer, record, tmp_path) -> Settings:
    """The service, registered with the authorization server under a key of its own."""
    key = ECKey.generate_key("P-384") if request.param == "ES384" else RSAKey.generate_key(2048)
    file = tmp_path / "client.pem"
    file.write_bytes(key.as_pem(private=True))
    client_id = f"graftstage-{request.param}"
    issuer.http.post("/clients", json={client_id: read_client_key(str(file)).public_key_set})
    issuer.http.post("/scope", json=None)
    return Settings(
        record_servers=(record[0],), record_client_id=client_id, record_key_file=str(file),
        record_token_endpoint=f"{issuer.address}/token")


def test_missing_data_come_from_the_record_under_a_token_of_our_own(settings, record):
    address, queries = record
    got = fetch_prefetch(settings, {"fhirServer": address}, queries)
    assert got["patient"]["resourceType"] == "Patient"
    assert [entry["resource"]["resourceType"] for entry in got["wounds"]["entry"]] == ["Observation"]
    assert got["conditions"]["resourceType"] == "Bundle" and not got["conditions"].get("entry")


def test_a_token_is_asked_for_once_and_named_nowhere(settings, record, caplog):
    address, queries = record
    with caplog.at_level(logging.DEBUG, "graftstage"):
        fetch_prefetch(settings, {"fhirServer": address}, queries)
        fetch_prefetch(settings, {"fhirServer": address}, queries)
    assert "granted" not in caplog.text and "assertion" not in caplog.text
    assert "brought nothing" not in caplog.text


def test_a_narrower_token_than_asked_for_is_not_used_beyond_what_it_says(issuer, settings, record):
    address, queries = record
    issuer.http.post("/scope", json="system/Patient.rs")
    got = fetch_prefetch(settings, {"fhirServer": address}, queries)
    assert set(got) == {"patient"}


def test_a_client_that_is_not_registered_gets_nothing(settings, record, caplog):
    address, queries = record
    stranger = settings.model_copy(update={"record_client_id": "planted-stranger"})
    assert fetch_prefetch(stranger, {"fhirServer": address}, queries) == {}
    assert "no token for the record: answered with status 400" in caplog.text and "planted" not in caplog.text

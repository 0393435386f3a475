"""Called back for missing data: a FHIR server of another make, and an authorization server of another make."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from copy import deepcopy

import httpx2 as httpx
import pytest
from joserfc.jwk import ECKey, RSAKey
from starlette.testclient import TestClient

from service.api.app import create_app
from service.ehr_client.client_key import read_client_key
from service.fhir.json_text import dump
from service.settings import Settings
from tests.builders import Resource, loaded
from tests.cds_hooks.hook_calls import PATH, hook_call
from tests.conftest import SAMPLES
from tests.contract.issuer import Issuer, run_issuer
from tests.contract.validators import require_validators, run_store

SAMPLE = SAMPLES / "adult-60-percent-after-session-1.json"
JSON = {"Content-Type": "application/json"}


@pytest.fixture(scope="module")
def issuer() -> Iterator[Issuer]:
    with run_issuer() as running:
        yield running


@pytest.fixture(scope="module")
def record() -> Iterator[tuple[str, str]]:
    """A record with everything of a sample: its address, and the id that it gave the patient."""
    require_validators()
    request = loaded(SAMPLE.read_bytes())
    with run_store() as address, httpx.Client(base_url=address, trust_env=False, timeout=60) as http:
        yield address, store_sample(http, request)


def store_sample(http: httpx.Client, request: Resource) -> str:
    """Stored under new ids, with every reference rewritten."""
    entries = next(p["resource"] for p in request["parameter"] if p["name"] == "bundle")["entry"]
    renamed: dict[str, str] = {}
    for entry in sorted(entries, key=lambda e: ("Patient", "Procedure").count(e["resource"]["resourceType"]) * -1):
        resource, old = entry["resource"], f"{entry['resource']['resourceType']}/{entry['resource'].get('id')}"
        text = dump({name: value for name, value in resource.items() if name != "id"}).decode()
        for before, after in renamed.items():
            text = text.replace(f'"{before}"', f'"{after}"')
        stored = http.post(f"/{resource['resourceType']}", content=text, headers={
            "Content-Type": "application/fhir+json"})
        assert stored.status_code == 201, stored.text
        new = f"{resource['resourceType']}/{stored.json()['id']}"
        renamed |= {old: new} | ({entry["fullUrl"]: new} if "fullUrl" in entry else {})
        if resource["resourceType"] == "Patient":
            patient_id = stored.json()["id"]
    return patient_id


@pytest.fixture
def call(record) -> Resource:
    """The hook of the sample without any prefetch."""
    address, patient_id = record
    sent = hook_call(loaded(SAMPLE.read_bytes()))
    sent["fhirServer"], sent["context"]["patientId"] = address, patient_id
    return {name: value for name, value in sent.items() if name != "prefetch"}


def answer_to(settings: Settings, call: Resource) -> httpx.Response:
    return TestClient(create_app(settings)).post(PATH, content=dump(call), headers=JSON)


@pytest.fixture(params=["ES384", "RS384"])
def registered(request, issuer, record, tmp_path) -> Settings:
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


def test_a_hook_without_prefetch_is_answered_as_one_with_it(record, call):
    fetched = answer_to(Settings(record_servers=(record[0],)), call)
    assert fetched.status_code == 200, fetched.text
    (card,), (sent,) = fetched.json()["cards"], answer_to(Settings(), hook_call(loaded(SAMPLE.read_bytes()))).json()[
        "cards"]
    assert card["summary"] == sent["summary"]


def test_where_the_record_is_not_listed_its_data_are_missing(call):
    assert answer_to(Settings(), call).status_code == 412
    assert answer_to(Settings(record_servers=("https://record.example/fhir",)), call).status_code == 412


def test_a_token_of_our_own_is_granted_and_named_nowhere(registered, call, caplog):
    with caplog.at_level(logging.DEBUG, "graftstage"):
        answer = answer_to(registered, call)
    assert answer.status_code == 200, answer.text
    assert answer.json()["cards"]
    for secret in ("granted", "assertion", "Bearer"):
        assert secret not in caplog.text + answer.text


def test_a_narrower_token_than_asked_for_leaves_data_missing(issuer, registered, call):
    issuer.http.post("/scope", json="system/Patient.rs system/Condition.rs system/Observation.rs?category=vital-signs")
    assert answer_to(registered, call).status_code == 412


def test_a_client_that_is_not_registered_gets_nothing(registered, call, caplog):
    stranger = registered.model_copy(update={"record_client_id": "planted-stranger"})
    assert answer_to(stranger, deepcopy(call)).status_code == 412
    assert "answered with status 400" in caplog.text and "planted" not in caplog.text

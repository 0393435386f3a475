"""Client libraries that integrators use, against the running service, as they come."""

import json
from datetime import UTC, datetime

import pytest
from fhirpy import SyncFHIRClient
from fhirpy.base.exceptions import OperationOutcome, ResourceNotFound

from service.fhir.canonical import DEFAULT_CANONICAL_BASE, value_set_url
from tests import builders
from tests.conftest import SAMPLES
from tests.contract.validators import require_validators, run_program

WRONG = SAMPLES / "wrong-units.json"
PARAMETERS = SAMPLES / "hands-and-face-12-percent.json"


def bare_bundle() -> bytes:
    """A record of today: without parameters the answer is made for now."""
    today = datetime.now(UTC).date().isoformat()
    seen = [builders.measured(code, value, seen=today)
            for code, value in (("weight", 70), ("height", 175), ("haemoglobin", 13))]
    return builders.body_of(builders.bundle(
        builders.patient(), builders.burn(today), *seen, builders.burn_wound("left thigh front", "4.5", seen=today)))


def is_plan(bundle: dict) -> bool:
    return bundle["resourceType"] == "Bundle" and bundle["entry"][0]["resource"]["resourceType"] == "CarePlan"


def error_ids(outcome: dict) -> set[str]:
    assert outcome["resourceType"] == "OperationOutcome"
    return {issue["details"]["coding"][0]["code"] for issue in outcome["issue"]}


@pytest.fixture(scope="module")
def kit_client(server_address, tmp_path_factory) -> dict:
    require_validators()
    bundle = tmp_path_factory.mktemp("bodies") / "bundle.json"
    bundle.write_bytes(bare_bundle())
    return json.loads(run_program(
        "call_with_kit_client.mjs", f"{server_address}/fhir", str(PARAMETERS), str(bundle), str(WRONG)))


def test_a_client_in_javascript_finds_its_way(kit_client):
    assert kit_client["metadata"]["fhirVersion"] == "4.0.1"
    assert kit_client["definition"]["code"] == "plan-grafts"
    assert kit_client["found"]["total"] == 0


@pytest.mark.parametrize("body", ["withParameters", "withBundle"])
def test_a_client_in_javascript_gets_a_plan(kit_client, body):
    assert is_plan(kit_client[body])


def test_a_client_in_javascript_reads_what_is_wrong(kit_client):
    assert kit_client["error"]["status"] == 422
    assert "unit-unknown" in error_ids(kit_client["error"]["resource"])
    assert kit_client["notFound"]["status"] == 404
    assert error_ids(kit_client["notFound"]["resource"]) == {"resource-not-found"}


@pytest.fixture(scope="module")
def python_client(server_address) -> SyncFHIRClient:
    return SyncFHIRClient(f"{server_address}/fhir/")


def test_a_client_in_python_finds_its_way(python_client):
    assert python_client.execute("metadata", method="GET")["fhirVersion"] == "4.0.1"
    url = value_set_url(DEFAULT_CANONICAL_BASE, "act")
    (found,) = python_client.resources("ValueSet").search(url=url).fetch()
    assert found["url"] == url == python_client.reference("ValueSet", "act").to_resource()["url"]


@pytest.mark.parametrize("body", [PARAMETERS.read_bytes(), bare_bundle()], ids=["Parameters", "Bundle"])
def test_a_client_in_python_gets_a_plan(python_client, body):
    assert is_plan(python_client.execute("$plan-grafts", method="POST", data=json.loads(body)))


def test_a_client_in_python_reads_what_is_wrong(python_client):
    with pytest.raises(OperationOutcome) as caught:
        python_client.execute("$plan-grafts", method="POST", data=json.loads(WRONG.read_bytes()))
    assert "unit-unknown" in error_ids(caught.value.resource)
    with pytest.raises(ResourceNotFound):
        python_client.reference("ValueSet", "none").to_resource()

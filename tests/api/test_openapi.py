"""The published description of the API: valid, current, and kept by the service itself."""

import json

import schemathesis
from hypothesis import HealthCheck, settings
from openapi_spec_validator import validate
from schemathesis import Case
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from service.api.app import create_app
from service.settings import Settings
from tests.api.write_openapi import OPENAPI, described_api
from tests.fuzz.case_count import CASES

MOST_EXAMPLES = max(15, CASES // 500)
#: What no schema says: an unknown resource is set aside, not refused, and elements may contradict each other.
WIDER = [negative_data_rejection, positive_data_acceptance]

READ = "/fhir/$read-burn-record"
#: Both operations take the same body: one of them goes through every phase, the other through random bodies.
RANDOM_ONLY = schemathesis.Config.from_dict({"phases": {"coverage": {"enabled": False}}})
described = create_app(Settings()).openapi()
every_phase = schemathesis.openapi.from_dict(described).exclude(path=READ)
random_only = schemathesis.openapi.from_dict(described, config=RANDOM_ONLY).include(path=READ)
as_often = settings(max_examples=MOST_EXAMPLES, suppress_health_check=list(HealthCheck))

#: Plain JSON whatever is accepted, as SMART asks for it.
ALWAYS_JSON = {"/fhir/.well-known/smart-configuration"}


def test_it_is_valid_openapi():
    validate(json.loads(described_api()))


def test_the_file_is_current():
    assert (OPENAPI / "openapi.json").read_text(encoding="utf-8") == described_api(), "run: make openapi"


def test_every_answer_with_a_body_has_an_example():
    for path, methods in json.loads(described_api())["paths"].items():
        if path.startswith("/fhir/") and path not in ALWAYS_JSON:
            for operation in methods.values():
                for status, answer in operation["responses"].items():
                    assert status == "304" or answer["content"]["application/fhir+json"]["example"], (path, status)


def test_every_path_says_how_it_fails():
    for path, methods in json.loads(described_api())["paths"].items():
        if path.startswith("/fhir/") and path not in ALWAYS_JSON:
            for operation in methods.values():
                failures = {status: answer for status, answer in operation["responses"].items() if status >= "400"}
                assert "406" in failures, path
                for answer in failures.values():
                    example = answer["content"]["application/fhir+json"]["example"]
                    assert example["issue"][0]["diagnostics"]


@every_phase.parametrize()
@as_often
def test_the_service_keeps_to_its_description(case: Case, server_address):
    case.call_and_validate(base_url=server_address, excluded_checks=WIDER)


@random_only.parametrize()
@as_often
def test_reading_keeps_to_its_description(case: Case, server_address):
    case.call_and_validate(base_url=server_address, excluded_checks=WIDER)

"""The answers to the sample records: whole, resolvable, and sound to the resource models."""

import pytest
from fhir.resources.R4B.bundle import Bundle

from service.fhir.json_text import dump, read_json
from tests.conftest import ANSWERED_SAMPLES
from tests.contract.validators import is_accepted, judge, require_validators
from tests.planned_samples import reply_to
from tests.unit.fhir_out.bundles import references, resources, walk

SAMPLES = {path.stem: path for path in ANSWERED_SAMPLES}
#: A small burn and a course with history: between them every kind of resource.
JUDGED = ("hands-and-face-12-percent", "adult-60-percent-after-session-1", "missing-weight")


def answer_to(name: str) -> dict:
    return reply_to(name).resource


def resources_sent(name: str) -> set[str]:
    """Addresses of the resources in the sample."""
    sample = read_json(SAMPLES[name].read_bytes())
    return {value for key, value in walk(sample) if key == "fullUrl"}


@pytest.mark.parametrize("name", SAMPLES)
def test_nothing_is_null_or_empty(name):
    hollow = [key for key, value in walk(answer_to(name)) if value is None or value in ("", [], {}, ())]
    assert hollow == []


@pytest.mark.parametrize("name", SAMPLES)
def test_every_reference_resolves_in_the_answer_or_in_the_request(name):
    answer = answer_to(name)
    inside = [entry["fullUrl"] for entry in answer["entry"]]
    assert len(set(inside)) == len(inside)
    assert set(references(answer)) <= set(inside) | resources_sent(name)


@pytest.mark.parametrize("name", SAMPLES)
def test_every_code_that_goes_out_is_coded(name):
    """Quantities, Tasks, findings, forecasts: none has slipped out of the code map."""
    uncoded = {
        value["text"]
        for resource_type in ("Task", "ServiceRequest", "DetectedIssue", "RiskAssessment", "Observation")
        for resource in resources(answer_to(name), resource_type)
        for key, value in walk(resource)
        if key in ("code", "type") and isinstance(value, dict) and "coding" not in value
    }
    assert uncoded == set()


@pytest.mark.parametrize("name", SAMPLES)
def test_the_resource_models_accept_the_answer(name):
    answer = answer_to(name)
    model = Bundle.model_validate(read_json(dump(answer)))
    assert len(model.entry) == len(answer["entry"])


def test_the_validators_accept_the_answers(tmp_path):
    require_validators()
    for name in JUDGED:
        (tmp_path / f"{name}.json").write_bytes(dump(answer_to(name)))
    assert [message for message in judge(tmp_path) if not is_accepted(message)] == []

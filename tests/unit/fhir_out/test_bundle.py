"""The Bundle as a whole: its two forms, its order, its cleanliness, its repeatability."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from fhir.resources.R4B.bundle import Bundle

from service.fhir.json_text import dump, read_json
from service.fhir.write_plan import write_plan_bundle
from tests.unit.fhir_out.answers import SETTINGS, answer, case, no_plan, read_result
from tests.unit.fhir_out.bundles import only, resources, walk

POSTED = ["CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue"]


@pytest.fixture(scope="module")
def collection():
    return write_plan_bundle(answer(), read_result(), SETTINGS)


@pytest.fixture(scope="module")
def transaction():
    return write_plan_bundle(answer(answer="transaction"), read_result(), SETTINGS)


def all_forms():
    return [
        write_plan_bundle(answer(), read_result(), SETTINGS),
        write_plan_bundle(answer(), read_result(restful=False), SETTINGS),
        write_plan_bundle(answer(answer="transaction"), read_result(), SETTINGS),
        write_plan_bundle(no_plan("comfort-care"), read_result(), SETTINGS),
        write_plan_bundle(no_plan("not-enough-skin"), read_result(), SETTINGS),
        write_plan_bundle(answer(events=(), findings=()), read_result(set_aside=(), understood=()), SETTINGS),
    ]


def test_care_plan_comes_first(collection, transaction):
    for bundle in (collection, transaction):
        assert bundle["entry"][0]["resource"]["resourceType"] == "CarePlan"


def test_collection_holds_every_kind_of_resource_without_id(collection):
    types = {entry["resource"]["resourceType"] for entry in collection["entry"]}
    assert types == {*POSTED, "Observation", "GuidanceResponse", "Provenance", "OperationOutcome"}
    assert all("id" not in entry["resource"] and "request" not in entry for entry in collection["entry"])


def test_transaction_posts_each_resource_once(transaction):
    assert transaction["type"] == "transaction"
    assert {entry["resource"]["resourceType"] for entry in transaction["entry"]} == set(POSTED)
    for entry in transaction["entry"]:
        (identifier,) = entry["resource"]["identifier"]
        assert entry["request"]["method"] == "POST"
        assert entry["request"]["url"] == entry["resource"]["resourceType"]
        assert entry["request"]["ifNoneExist"].startswith(f"identifier={identifier['system']}|")


@pytest.mark.parametrize("bundle", all_forms(), ids=range(6))
def test_nothing_is_null_or_empty(bundle):
    hollow = [name for name, value in walk(bundle) if value is None or value in ("", [], {}, ())]
    assert hollow == []


@pytest.mark.parametrize("bundle", all_forms(), ids=range(6))
def test_full_urls_are_unique(bundle):
    urls = [entry["fullUrl"] for entry in bundle["entry"]]
    assert len(set(urls)) == len(urls)


def test_identifiers_are_unique_within_a_type(collection):
    for resource_type in POSTED:
        values = [r["identifier"][0]["value"] for r in resources(collection, resource_type)]
        assert values and len(set(values)) == len(values)


def test_everything_requested_is_a_draft_proposal(collection):
    for resource_type in ("CarePlan", "Task", "ServiceRequest"):
        for resource in resources(collection, resource_type):
            assert (resource["status"], resource["intent"]) == ("draft", "proposal")


def test_same_input_gives_the_same_bytes():
    first, second = (dump(write_plan_bundle(answer(), read_result(), SETTINGS)) for _ in range(2))
    assert first == second


def test_decimals_leave_as_they_were_computed(collection):
    text = dump(collection).decode()
    assert '"value":990.10' in text and '"value":700.0,' in text
    assert read_json(text.encode()) == json.loads(text, parse_float=Decimal)


def test_no_plan_gives_the_reason_and_no_care_plan():
    bundle = write_plan_bundle(no_plan("not-enough-skin"), read_result(), SETTINGS)
    types = {entry["resource"]["resourceType"] for entry in bundle["entry"]}
    assert types == {"DetectedIssue", "Observation", "GuidanceResponse", "Provenance", "OperationOutcome"}


def test_no_plan_is_never_a_transaction():
    made = replace(no_plan("comfort-care"), case=case(answer="transaction"))
    assert write_plan_bundle(made, read_result(), SETTINGS)["type"] == "collection"


def test_comfort_care_gets_one_statement_and_nothing_to_do():
    bundle = write_plan_bundle(no_plan("comfort-care"), read_result(), SETTINGS)
    types = [entry["resource"]["resourceType"] for entry in bundle["entry"]]
    assert sorted(types) == ["GuidanceResponse", "OperationOutcome", "Provenance"]
    response = only(bundle, "GuidanceResponse")
    assert [reason["coding"][0]["code"] for reason in response["reasonCode"]] == ["no_plan", "comfort-care"]
    assert len(response["note"]) == 1


@pytest.mark.parametrize("bundle", all_forms(), ids=range(6))
def test_every_resource_is_accepted_by_the_resource_models(bundle):
    model = Bundle.model_validate(read_json(dump(bundle)))
    assert [entry.resource.get_resource_type() for entry in model.entry] == [
        entry["resource"]["resourceType"] for entry in bundle["entry"]]

"""Identity and references, each sentence of the contract a test, over whole answers."""

import json
from uuid import NAMESPACE_URL, uuid5

import pytest

from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.identity import identifier_system
from service.settings import Settings
from service.wiring import answer_plan_request, build_parts
from tests.builders import body_of
from tests.conftest import SAMPLES
from tests.unit.fhir_out.bundles import references, resources, walk

PARTS = build_parts(Settings())
SAMPLE = SAMPLES / "adult-60-percent-after-session-1.json"
SYSTEM = identifier_system(DEFAULT_CANONICAL_BASE)
NAMED = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue")


def request(form: str = "collection", *, as_urns: bool = False) -> dict:
    """The sample; ``as_urns``: with addresses that mean nothing outside the request, and no ids."""
    sent = json.loads(SAMPLE.read_bytes())
    sent["parameter"] += [{"name": "answer", "valueCode": form}]
    if as_urns:
        record = next(p for p in sent["parameter"] if p["name"] == "bundle")["resource"]
        names = {e["fullUrl"]: f"urn:uuid:{uuid5(NAMESPACE_URL, e['fullUrl'])}" for e in record["entry"]}
        names |= {"/".join(url.split("/")[-2:]): urn for url, urn in names.items()}
        sent = renamed(sent, names)
        for entry in next(p for p in sent["parameter"] if p["name"] == "bundle")["resource"]["entry"]:
            entry["resource"].pop("id", None)
    return sent


def renamed(value, names: dict[str, str]):
    if isinstance(value, dict):
        return {key: renamed(part, names) for key, part in value.items()}
    if isinstance(value, list):
        return [renamed(part, names) for part in value]
    return names.get(value, value) if isinstance(value, str) else value


def answer_to(sent: dict) -> dict:
    return answer_plan_request(PARTS, body_of(sent)).resource


@pytest.fixture(scope="module")
def collection() -> dict:
    return answer_to(request())


@pytest.fixture(scope="module")
def transaction() -> dict:
    return answer_to(request("transaction"))


@pytest.fixture(scope="module")
def of_urns() -> dict[str, dict]:
    return {form: answer_to(request(form, as_urns=True)) for form in ("collection", "transaction")}


def named_of(bundle: dict) -> list[tuple[str, dict]]:
    return [(e["fullUrl"], e["resource"]) for e in bundle["entry"] if e["resource"]["resourceType"] in NAMED]


def test_each_is_named_by_patient_subject_kind_and_ordinal(collection):
    patients = set()
    for _, resource in named_of(collection):
        (identifier,) = resource["identifier"]
        patient, *subject, kind, ordinal = identifier["value"].split("/")
        assert identifier["system"] == SYSTEM and subject and kind and int(ordinal) >= 1
        patients.add(patient)
    assert len(patients) == 1


def test_the_full_url_is_the_version_5_uuid_of_the_identifier(collection):
    for full_url, resource in named_of(collection):
        (identifier,) = resource["identifier"]
        assert full_url == f"urn:uuid:{uuid5(NAMESPACE_URL, '|'.join(identifier.values()))}"


def test_the_number_of_the_session_is_no_part_of_a_name(collection):
    values = [resource["identifier"][0]["value"] for _, resource in named_of(collection)]
    assert not [value for value in values if "session-1" in value or "session:1" in value]


def test_both_forms_give_the_same_names(collection, transaction):
    assert {url for url, _ in named_of(collection)} == {entry["fullUrl"] for entry in transaction["entry"]}


def test_the_form_for_posting_holds_only_what_may_be_posted_each_on_condition(transaction):
    for entry in transaction["entry"]:
        resource, asked = entry["resource"], entry["request"]
        assert resource["resourceType"] in NAMED and "id" not in resource
        assert (asked["method"], asked["url"]) == ("POST", resource["resourceType"])
        assert asked["ifNoneExist"] == f"identifier={SYSTEM}|{resource['identifier'][0]['value'].replace('%', '%25')}"


def test_everything_is_a_draft_and_tasks_do_not_point_back(collection):
    for task in resources(collection, "Task"):
        assert task["status"] == "draft" and "basedOn" not in task
    for plan in resources(collection, "CarePlan"):
        assert plan["status"] == "draft" and all(set(activity) == {"reference"} for activity in plan["activity"])


def test_the_callers_resources_are_named_by_address_where_they_had_one(collection, transaction):
    sent = {e["fullUrl"] for p in request()["parameter"] if "resource" in p for e in p["resource"]["entry"]}
    inside = {entry["fullUrl"] for entry in collection["entry"]}
    outside = set(references(collection)) - inside
    assert outside and outside <= sent
    relative = set(references(transaction)) - inside
    assert relative and relative <= {"/".join(url.split("/")[-2:]) for url in sent}


@pytest.mark.parametrize("form", ["collection", "transaction"])
def test_the_callers_resources_are_named_by_identifier_where_they_had_no_address(of_urns, form):
    bundle = of_urns[form]
    assert set(references(bundle)) <= {entry["fullUrl"] for entry in bundle["entry"]}
    for task in resources(bundle, "Task"):
        assert set(task["for"]) == {"type", "identifier", "display"} and task["for"]["type"] == "Patient"


def test_derived_from_names_observations_and_procedures_are_sources_of_the_whole(collection):
    derived = [r["reference"] for o in resources(collection, "Observation") for r in o.get("derivedFrom", ())]
    assert derived and {url.split("/")[-2] for url in derived} == {"Observation"}
    (provenance,) = resources(collection, "Provenance")
    assert any("/Procedure/" in url for url in references({"entity": provenance["entity"]}))


def test_the_author_is_named_by_identifier_only(collection):
    (plan,) = resources(collection, "CarePlan")
    assert plan["author"] == {
        "type": "Device", "identifier": {"system": SYSTEM, "value": "graftstage"}, "display": "Graftstage"}


def test_no_name_or_number_of_the_patient_is_in_a_name_of_ours(collection):
    sent = request()
    patient = next(e["resource"] for p in sent["parameter"] if "resource" in p for e in p["resource"]["entry"]
                   if e["resource"]["resourceType"] == "Patient")
    told = {value for key, value in walk(patient) if key in ("value", "id", "birthDate") and isinstance(value, str)}
    assert told
    for _, resource in named_of(collection):
        assert not [text for text in told if text in resource["identifier"][0]["value"]]

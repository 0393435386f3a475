"""DetectedIssue, GuidanceResponse, Provenance, OperationOutcome: what is said beside the plan."""

import pytest

from service.domain.errors import Fault
from service.domain.finding import Finding, Severity
from service.domain.plan import PlanOutcome
from service.fhir.read_result import Missing
from service.fhir.write_data_required import write_data_required_bundle
from service.fhir.write_evidence import cite_evidence
from service.fhir.write_plan import write_plan_bundle
from service.wording.catalogue import load_table
from service.wording.findings import word_finding
from tests.unit.fhir_out.answers import BASE, SERVER, SETTINGS, answer, no_plan, plan, read_result
from tests.unit.fhir_out.bundles import coded, only, references, resources, walk


def bundle(made=None, read=None):
    return write_plan_bundle(made or answer(), read or read_result(), SETTINGS)


def test_one_issue_for_each_finding_in_their_order():
    issues = resources(bundle(), "DetectedIssue")
    assert [(i["code"]["coding"][0]["code"], i["severity"]) for i in issues] == [
        ("still-open", "high"), ("session-over-soft-area", "moderate"), ("session-over-soft-area", "moderate"),
        ("allergy-not-recorded", "moderate"), ("scalp-share-low-end", "low")]


def test_an_issue_says_what_it_is_about_and_what_to_do():
    (issue,) = coded(bundle(), "DetectedIssue", "still-open")
    assert issue["detail"].startswith("Left thigh, front, deep partial: ")
    assert issue["mitigation"][0]["action"]["text"].startswith("Plan again")
    assert issue["implicated"] == [{"reference": f"{SERVER}/Observation/r5"}]


def test_evidence_of_a_finding_is_named():
    (issue,) = coded(bundle(), "DetectedIssue", "scalp-share-low-end")
    assert issue["evidence"] == [{"code": [{"text": cite_evidence("usable-share/scalp")}]}]


def test_an_issue_keeps_its_name_when_sessions_shift():
    """Counted by code and place; the session number is not part of the name."""
    values = [i["identifier"][0]["value"] for i in coded(bundle(), "DetectedIssue", "session-over-soft-area")]
    assert [value.split("/patient/")[1] for value in values] == [
        "session-over-soft-area/1", "session-over-soft-area/2"]


@pytest.mark.parametrize("outcome", [PlanOutcome.OPTIMAL, PlanOutcome.BEST_FOUND, PlanOutcome.RULE_OF_THUMB])
def test_guidance_says_success_with_the_outcome_in_a_code(outcome):
    made = bundle(answer(plan(outcome=outcome)))
    response = only(made, "GuidanceResponse")
    assert response["status"] == "success"
    assert response["reasonCode"][0]["coding"][0]["code"] == outcome
    assert "Search time allowed: 2 s" in response["note"][0]["text"]
    assert response["result"]["reference"] == made["entry"][0]["fullUrl"]
    assert response["moduleCanonical"] == f"{BASE}/OperationDefinition/plan-grafts"


def test_guidance_without_a_plan_gives_the_reason():
    response = only(bundle(no_plan("not-enough-skin")), "GuidanceResponse")
    assert response["status"] == "success" and "result" not in response
    assert [r["coding"][0]["code"] for r in response["reasonCode"]] == ["no_plan", "not-enough-skin"]
    assert "donor skin does not suffice" in response["note"][0]["text"]


def test_provenance_names_versions_hashes_seed_and_targets():
    made = bundle()
    provenance = only(made, "Provenance")
    said = " ".join(str(value) for _, value in walk(provenance))
    for expected in ("0.1.0", "2026.1", "seed 7", "a" * 64, "b" * 64, "c" * 64):
        assert expected in said
    assert provenance["recorded"] == "2026-03-02T08:30:00+00:00"
    targets = {target["reference"] for target in provenance["target"]}
    others = {
        e["fullUrl"] for e in made["entry"]
        if e["resource"]["resourceType"] not in ("Provenance", "OperationOutcome")}
    assert targets == others


def test_what_was_set_aside_and_assumed_is_named():
    issues = only(bundle(), "OperationOutcome")["issue"]
    assert issues[0]["expression"] == ["Bundle.entry[9].resource"]
    assert issues[0]["details"]["text"].startswith("Encounter: ")
    assumed = [i["details"]["text"] for i in issues if i["details"]["text"].startswith("Assumed")]
    assert len(assumed) == 2 and "Cover stock not stated: none" in assumed[0]


def test_a_stated_stock_is_not_an_assumption():
    read = read_result(request=answer(cover_stock_cm2=0, transfusion_units=0).case.request)
    texts = [i["details"]["text"] for i in only(bundle(read=read), "OperationOutcome")["issue"]]
    assert not any(text.startswith("Assumed") for text in texts)


def test_notes_of_the_reader_go_out_with_code_and_repair():
    note = Fault("unit-alias", "Bundle.entry[3].resource.value", (("allowed", "m2"),))
    issue = only(bundle(read=read_result(notes=(note,))), "OperationOutcome")["issue"][1]
    assert issue["details"]["coding"][0] == {"system": f"{BASE}/CodeSystem/error-ids", "code": "unit-alias"}
    assert issue["diagnostics"] == "Use the code m2."


MISSING = (Missing("weight"), Missing("burn-depth", "Bundle.entry[2].resource.component"), Missing("birth-date"))


def data_required(**changes):
    read = read_result(record=None, missing=MISSING, **changes)
    return write_data_required_bundle(read, SETTINGS)


def test_missing_data_are_asked_for_and_no_plan_is_made():
    made = data_required()
    response = only(made, "GuidanceResponse")
    assert made["type"] == "collection" and not resources(made, "CarePlan")
    assert response["status"] == "data-required"
    assert [r["type"] for r in response["dataRequirement"]] == ["Observation", "Observation", "Patient"]
    assert response["dataRequirement"][2]["mustSupport"] == ["birthDate"]


def test_a_requirement_names_profile_code_and_element():
    weight = only(data_required(), "GuidanceResponse")["dataRequirement"][0]
    assert weight["profile"] == [f"{BASE}/StructureDefinition/weight"]
    assert weight["codeFilter"][0]["path"] == "code"
    assert weight["codeFilter"][0]["code"][0]["code"] == "29463-7"


def test_the_same_datum_missing_twice_is_one_requirement_and_two_notes():
    twice = (Missing("weight"), *MISSING)
    response = only(write_data_required_bundle(read_result(record=None, missing=twice), SETTINGS), "GuidanceResponse")
    assert len(response["dataRequirement"]) == 3 and len(response["note"]) == 4


def test_missing_data_refer_to_the_patient_when_there_is_one():
    assert references(data_required()) [0].startswith(("urn:uuid:", SERVER))
    assert only(data_required(), "GuidanceResponse")["subject"] == {"reference": f"{SERVER}/Patient/r0"}
    assert "subject" not in only(data_required(sources={}), "GuidanceResponse")


@pytest.mark.parametrize("code", sorted(load_table("findings")))
def test_every_finding_cites_rows_that_exist(code):
    words = word_finding(Finding(code, Severity.LOW))
    assert all(cite_evidence(row_id).startswith(f"{row_id}: ") for row_id in words.evidence_ids)

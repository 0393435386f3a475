"""What a card says, when there is one, and what it suggests."""

import re
from copy import deepcopy

import pytest

from tests.cds_hooks.conftest import sample
from tests.cds_hooks.hook_calls import hook_call
from tests.cds_hooks.rules import answer_faults, markdown_faults
from tests.conftest import ANSWERED_SAMPLES, REFUSED_SAMPLES

SILENT = {"comfort-care": "nobody is to be told", "hands-and-face-12-percent": "nothing is due that day"}


@pytest.mark.parametrize("name", [path.stem for path in ANSWERED_SAMPLES if path.stem not in ("missing-weight",)])
def test_19_the_detail_is_plain_markdown(record, name):
    answer = record.post(hook_call(sample(name))).json()
    assert list(answer_faults(answer)) == []
    for card in answer["cards"]:
        assert list(markdown_faults(card["detail"])) == []
        assert "**Due**" in card["detail"]
    assert (name in SILENT) == (answer["cards"] == []) or name not in SILENT


@pytest.mark.parametrize("name", REFUSED_SAMPLES)
def test_what_is_wrong_is_one_warning_card_without_a_value(record, name):
    call = hook_call(sample(name))
    (card,) = record.cards(call)
    assert card["indicator"] == "warning" and card["summary"].startswith("No plan: ")
    assert list(answer_faults({"cards": [card]})) == [] and "suggestions" not in card
    assert call["context"]["patientId"] not in card["summary"] + card["detail"]


def test_the_summary_has_number_unit_and_interval(record, due_call):
    (card,) = record.cards(due_call)
    assert re.search(r"harvest [\d,]+ cm² \([\d,]+-[\d,]+\)", card["summary"])
    assert "2026-03-13 Fri" in card["summary"]


def test_the_detail_has_reasons_and_what_would_change_the_plan(record, due_call):
    (card,) = record.cards(due_call)
    for heading in ("**Due**", "**Why**", "**What would change the plan**"):
        assert heading in card["detail"]
    assert "draft proposal" in card["detail"]


def test_data_of_days_ago_are_said_to_be_old_in_bold(record, due_request):
    due_request["parameter"] = [p for p in due_request["parameter"] if p["name"] != "as-of"]
    due_request["parameter"].append({"name": "as-of", "valueInstant": "2026-03-15T12:00:00+01:00"})
    (card,) = record.cards(hook_call(due_request))
    assert card["detail"].startswith("**Based on data of 2026-03-12 09:00. They are 3 days old")


def test_a_suggested_task_is_a_task_of_fhir(record, due_call):
    (card,) = record.cards(due_call)
    task = card["suggestions"][0]["actions"][0]["resource"]
    request = task["contained"][0]
    assert task["code"]["coding"][0]["code"] == "harvest-skin"
    assert request["resourceType"] == "ServiceRequest" and request["subject"] == task["for"]
    assert any(stated.get("valueQuantity", {}).get("code") == "cm2" for stated in task["input"])


def test_what_is_urgent_is_a_warning_and_comes_first(record):
    (card,) = record.cards(hook_call(sample("infected-bed")))
    assert card["indicator"] == "warning"
    assert card["summary"].startswith("Inspect infected bed") and "Urgent" in card["summary"]


def test_a_task_on_record_is_not_suggested_again(record, due_call):
    (card,) = record.cards(due_call)
    held = {**card["suggestions"][0]["actions"][0]["resource"], "id": "task-1"}
    del held["contained"], held["focus"]
    again = deepcopy(due_call) | {"hookInstance": "d1577c69-dfbe-44ad-ba6d-3e05e953b2ec"}
    again["prefetch"]["tasks"] = {"resourceType": "Bundle", "type": "searchset", "entry": [
        {"fullUrl": "https://record.example/fhir/Task/task-1", "resource": held}]}
    other = type(record)(record.http.app.state.parts.settings)
    (card,) = other.cards(again)
    assert "suggestions" not in card and "harvest" in card["summary"]


def test_a_record_without_a_burn_gets_no_card_and_is_not_asked_for_more(record, due_call):
    prefetch = due_call["prefetch"]
    due_call["prefetch"] = {"patient": prefetch["patient"], "conditions": None, "wounds": None}
    assert record.cards(due_call) == []


@pytest.mark.parametrize(("element", "code"), [
    ("clinicalStatus", "resolved"), ("clinicalStatus", "inactive"), ("verificationStatus", "entered-in-error")])
def test_a_burn_of_the_past_gets_no_card(record, due_call, element, code):
    for entry in due_call["prefetch"]["conditions"]["entry"]:
        entry["resource"][element] = {"coding": [{"code": code}]}
    assert record.cards(due_call) == []

"""CDS Hooks 2.0, requirement by requirement: the numbers are those of the table in ``openapi/CDS_HOOKS.md``."""

import json
import re
from copy import deepcopy
from uuid import uuid4

import pytest

from service.fhir.hook_services import prefetch_queries
from service.fhir.write_cards import name_card
from service.settings import Settings
from tests.builders import CANONICAL
from tests.cds_hooks.conftest import JSON, Record
from tests.cds_hooks.hook_calls import PATH
from tests.cds_hooks.rules import answer_faults, discovery_faults, empties, template_faults
from tests.conftest import ROOT

PAGE = ROOT / "openapi" / "CDS_HOOKS.md"


def issues(answer) -> list[str]:
    return [issue["details"]["coding"][0]["code"] for issue in answer.json()["issue"]]


def refused(record, call, status: int) -> list[str]:
    answer = record.post(call)
    assert answer.status_code == status, answer.text
    assert answer.json()["resourceType"] == "OperationOutcome"
    return issues(answer)


def test_02_discovery_lists_the_services(record):
    answer = record.http.get("/cds-services")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("application/json")
    assert isinstance(answer.json()["services"], list)


def test_03_a_service_has_hook_description_id_title_and_prefetch(record):
    answer = record.http.get("/cds-services").json()
    assert list(discovery_faults(answer)) == []
    assert all({"title", "prefetch", "usageRequirements"} <= service.keys() for service in answer["services"])


def test_05_a_service_is_called_by_post_at_its_id(record, due_call):
    assert record.post(due_call).status_code == 200
    assert record.http.get(PATH).status_code == 405
    assert refused_at(record, due_call, "/cds-services/another", 404) == ["service-not-found"]


def refused_at(record, call, path, status):
    answer = record.post(call, path)
    assert answer.status_code == status
    return issues(answer)


@pytest.mark.parametrize("name", ["hook", "hookInstance", "context"])
def test_06_a_call_needs_hook_instance_and_context(record, due_call, name):
    del due_call[name]
    assert "hook-element" in refused(record, due_call, 400)


def test_06_a_token_needs_its_server(record, due_call):
    del due_call["fhirServer"]
    due_call["fhirAuthorization"] = {"access_token": "t", "token_type": "Bearer"}
    assert refused(record, due_call, 400) == ["hook-authorization"]


def test_06_an_instance_is_a_uuid_and_the_hook_that_of_the_service(record, due_call):
    assert refused(record, due_call | {"hookInstance": "17"}, 400) == ["hook-element"]
    assert refused(record, due_call | {"hook": "order-sign"}, 400) == ["hook-other"]


def test_07_nothing_that_is_sent_is_null_or_empty(record, due_call):
    assert list(empties(record.post(due_call).json())) == []
    assert list(empties(record.http.get("/cds-services").json())) == []


def test_08_an_answer_has_cards_or_an_empty_list_of_them(record, due_call):
    first, second = record.post(due_call).json(), record.post(due_call | {"hookInstance": str(uuid4())}).json()
    assert len(first["cards"]) == 1 and "systemActions" not in first
    assert second == {"cards": []}


def test_09_what_is_missing_from_the_call_is_412(record, due_call):
    for key in ("conditions", "procedures"):
        del due_call["prefetch"][key]
    assert refused(record, due_call, 412) == ["prefetch-missing", "prefetch-missing"]


def test_09_what_is_missing_from_the_record_is_412(record, due_call):
    due_call["prefetch"]["measurements"] = None
    assert set(refused(record, due_call, 412)) == {"record-incomplete"}


def test_10_other_failures_have_their_own_status(record, due_call):
    assert record.http.post(PATH, content=b"{", headers=JSON).status_code == 400
    assert record.http.post(PATH, content=b"{}", headers={"Content-Type": "text/csv"}).status_code == 415


def test_11_every_failure_carries_an_operation_outcome(record, due_call):
    for call in ({}, due_call | {"prefetch": {}}, due_call | {"hook": "other"}):
        answer = record.post(call)
        assert answer.status_code in (400, 412) and answer.json()["issue"][0]["diagnostics"]


def test_12_the_prefetch_is_compared_with_the_template(record, due_call):
    due_call["prefetch"] = {"another": due_call["prefetch"]["patient"]}
    needed = [query for query in prefetch_queries(CANONICAL) if query.is_needed]
    assert len(refused(record, due_call, 412)) == len(needed)


def test_13_an_outcome_in_place_of_data_is_noticed(record, due_call):
    outcome = {"resourceType": "OperationOutcome", "issue": [{"severity": "error", "code": "timeout"}]}
    whole, among = deepcopy(due_call), deepcopy(due_call)
    whole["prefetch"]["procedures"] = outcome
    among["prefetch"]["procedures"]["entry"].append({"resource": outcome, "search": {"mode": "outcome"}})
    for call in (whole, among):
        assert refused(record, call, 412) == ["prefetch-failed"]


def test_13_a_warning_beside_the_data_is_no_data(record, due_call):
    note = {"resourceType": "OperationOutcome", "issue": [{"severity": "warning", "code": "processing"}]}
    due_call["prefetch"]["procedures"]["entry"].append({"resource": note, "search": {"mode": "outcome"}})
    assert len(record.cards(due_call)) == 1


@pytest.mark.parametrize("nothing", [None, {"resourceType": "Bundle", "type": "searchset", "total": 0}])
def test_14_a_query_that_found_nothing_is_no_failure(record, due_call, nothing):
    due_call["prefetch"] |= {"allergies": nothing, "tasks": nothing}
    assert len(record.cards(due_call)) == 1


def test_15_a_further_page_that_is_not_fetched_is_refused(record, due_call):
    due_call["prefetch"]["procedures"]["link"] = [{"relation": "next", "url": "https://record.example/fhir?page=2"}]
    assert refused(record, due_call, 412) == ["prefetch-paged"]


def test_15_part_of_a_result_is_not_taken_for_the_whole(record, due_call):
    due_call["prefetch"]["procedures"]["total"] += 1
    assert refused(record, due_call, 412) == ["prefetch-incomplete"]


def test_16_templates_keep_to_the_recommended_queries(record):
    for service in record.http.get("/cds-services").json()["services"]:
        for template in service["prefetch"].values():
            assert list(template_faults(template)) == []
            assert len(template) < 2_000


def test_17_templates_use_tokens_of_the_first_level_of_the_context(record):
    for service in record.http.get("/cds-services").json()["services"]:
        tokens = {token for t in service["prefetch"].values() for token in re.findall(r"\{\{.*?\}\}", t)}
        assert tokens == {"{{context.patientId}}"}


def test_18_to_26_a_card_keeps_to_the_rules(record, due_call):
    answer = record.post(due_call).json()
    assert answer["cards"] and list(answer_faults(answer)) == []


def test_22_the_suggestion_creates_one_whole_task(record, due_call):
    (card,) = record.cards(due_call)
    ((action,),) = [suggestion["actions"] for suggestion in card["suggestions"]]
    task = action["resource"]
    assert (action["type"], task["resourceType"], task["status"]) == ("create", "Task", "draft")
    assert task["for"] == {"reference": f"Patient/{due_call['context']['patientId']}"}
    references = re.findall(r'"reference": "([^"]*)"', json.dumps(task))
    assert set(references) == {task["for"]["reference"], f"#{task['contained'][0]['id']}"}


def test_24_there_are_no_system_actions(record, due_call):
    assert set(record.post(due_call).json()) == {"cards"}


def report(card: dict, **more) -> dict:
    return {"feedback": [{"card": card["uuid"], "outcomeTimestamp": "2026-03-12T12:30:00Z", **more}]}


def test_27_feedback_is_kept(record, due_call):
    (card,) = record.cards(due_call)
    accepted = report(card, outcome="accepted", acceptedSuggestions=[{"id": card["suggestions"][0]["uuid"]}])
    reason = {"reason": card["overrideReasons"][0], "userComment": "planted words"}
    overridden = report(card, outcome="overridden", overrideReason=reason)
    for said in (accepted, overridden, overridden):
        assert record.post(said, f"{PATH}/feedback").status_code == 200
    kept = record.http.app.state.parts.storage.card_feedback.of(card["uuid"])
    assert [(one.outcome, one.reason_code) for one in kept] == [("accepted", None), ("overridden", "already-done")]


@pytest.mark.parametrize("said", [
    {}, {"feedback": []}, {"feedback": {}}, {"feedback": [{}]},
    {"feedback": [{"card": str(uuid4()), "outcome": "ignored", "outcomeTimestamp": "2026-03-12T12:30:00Z"}]},
    {"feedback": [{"card": str(uuid4()), "outcome": "accepted", "outcomeTimestamp": "2026-03-12T12:30:00Z"}]},
    {"feedback": [{"card": str(uuid4()), "outcome": "overridden", "outcomeTimestamp": "yesterday"}]},
    {"feedback": [{"card": "7", "outcome": "overridden", "outcomeTimestamp": "2026-03-12T12:30:00Z"}]},
])
def test_27_feedback_of_another_shape_is_refused(record, said):
    assert refused_at(record, said, f"{PATH}/feedback", 400) == ["hook-element"]


def test_28_feedback_names_the_card_by_its_uuid(record, due_call):
    (card,) = record.cards(due_call)
    assert record.http.app.state.parts.storage.shown_cards.find(card["uuid"]).card_id == card["uuid"]
    assert name_card("graft-plan", due_call["hookInstance"], "x") != card["uuid"]


def test_34_a_token_is_neither_logged_nor_kept_nor_told(record, due_call, caplog):
    due_call["fhirAuthorization"] = {"access_token": "secret-token-4711", "token_type": "Bearer"}
    answer = record.post(due_call)
    del due_call["prefetch"]["procedures"]
    failure = record.post(due_call)
    assert answer.status_code == 200 and failure.status_code == 412
    assert "4711" not in answer.text + failure.text + caplog.text


def test_35_pages_of_named_origins_may_call():
    record = Record(Settings(database="memory", cors_origins="https://record.example"))
    asked = record.http.options(PATH, headers={
        "Origin": "https://record.example", "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": "content-type"})
    assert asked.status_code == 200
    assert asked.headers["access-control-allow-origin"] == "https://record.example"
    assert "access-control-allow-origin" not in record.http.get(
        "/cds-services", headers={"Origin": "https://other.example"}).headers


def test_36_an_extension_is_never_needed(record, due_call):
    due_call["extension"]["org.example.anything"] = {"deep": [1]}
    assert len(record.cards(due_call)) == 1
    del due_call["extension"]
    assert record.post(due_call | {"hookInstance": str(uuid4())}).status_code in (200, 412)


def test_37_a_card_says_of_when_its_data_are(record, due_call):
    (card,) = record.cards(due_call)
    assert card["detail"].startswith("Based on data of 2026-03-12 09:00.")


def rows() -> dict[str, list[str]]:
    numbered = [line for line in PAGE.read_text().splitlines() if re.match(r"\| \d", line)]
    cells = [[cell.strip() for cell in line.split("|")[1:-1]] for line in numbered]
    return {row[0]: row for row in cells}


def test_the_page_has_every_requirement_and_names_a_test_that_exists():
    assert list(rows()) == [str(number) for number in range(1, 38)]
    for number, row in rows().items():
        for path, name in re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", row[2]):
            assert f"def {name}(" in (ROOT / path).read_text() if name else (ROOT / path).exists(), number


def test_every_test_by_number_is_named_on_the_page():
    named = set(re.findall(r"::(test_\d\w+)", PAGE.read_text()))
    here = {name for name in globals() if re.match(r"test_\d", name)}
    assert here <= named

"""A plan made again: drafts follow it, what people have taken further is left alone, and that is said."""

from copy import deepcopy
from dataclasses import replace

import pytest

from service.fhir.read_result import EarlierAnswer, SourceRef
from service.fhir.write_plan import find_changes_in_progress, write_plan_bundle
from tests.unit.fhir_out.answers import EVENTS, FINDINGS, SERVER, SETTINGS, answer, plan, read_result
from tests.unit.fhir_out.bundles import coded, references, resources

IN_PROGRESS = "plan-changed-task-in-progress"
TRANSACTION = {"answer": "transaction"}


def first_plan(**request_changes) -> dict:
    return write_plan_bundle(answer(**(request_changes or TRANSACTION)), read_result(), SETTINGS)


def sent_back(bundle: dict, **statuses: str) -> list[EarlierAnswer]:
    """The entries as a server stored them; ``statuses`` by code of the Task."""
    stored = []
    for number, entry in enumerate(deepcopy(bundle["entry"])):
        resource = entry["resource"] | {"id": f"s{number}"}
        if resource["resourceType"] == "Task":
            code = resource["code"]["coding"][0]["code"].replace("-", "_")
            resource["status"] = statuses.get(code, resource["status"])
        stored.append(EarlierAnswer(
            f"entry[{100 + number}]", resource["resourceType"], resource["identifier"][0]["value"],
            resource["status"], resource["id"], "3", resource))
    return stored


def plan_again(earlier: list[EarlierAnswer], **changes) -> dict:
    read = read_result(earlier=tuple(earlier))
    stored = {
        one.key: SourceRef(one.resource_type, f"{SERVER}/{one.resource_type}/{one.id}", one.id, None, one.resource_type)
        for one in earlier}
    read = replace(read, sources=read.sources | stored)
    return write_plan_bundle(answer(**(TRANSACTION | changes)), read, SETTINGS)


def puts(bundle: dict) -> dict[str, dict]:
    return {e["request"]["url"]: e["resource"] for e in bundle["entry"] if e["request"]["method"] == "PUT"}


def task_of(earlier: list[EarlierAnswer], code: str) -> EarlierAnswer:
    return next(
        one for one in earlier
        if one.resource_type == "Task" and one.resource["code"]["coding"][0]["code"] == code)


def issues(bundle: dict) -> list[dict]:
    return [i for i in resources(bundle, "DetectedIssue") if i["code"]["coding"][0]["code"] == IN_PROGRESS]


#: The harvest a day later, the ward round gone.
CHANGED = tuple(replace(e, latest_day=e.latest_day + 1) if e is EVENTS[0] else e for e in EVENTS[:-1])


def test_what_was_not_sent_back_is_never_updated():
    assert puts(plan_again([])) == {}


def test_everything_sent_back_untouched_is_updated_in_the_version_that_was_sent():
    earlier = sent_back(first_plan())
    again = plan_again(earlier)
    assert set(puts(again)) == {f"{one.resource_type}/{one.id}" for one in earlier}
    assert {e["request"]["ifMatch"] for e in again["entry"]} == {'W/"3"'}
    assert all(resource["id"] == url.split("/")[1] for url, resource in puts(again).items())


def test_references_to_what_the_server_holds_are_its_addresses():
    again = plan_again(sent_back(first_plan()))
    assert again["entry"][0]["resource"]["activity"][0]["reference"]["reference"].startswith("Task/s")
    assert not [url for url in references(again) if url.startswith("urn:")]


@pytest.mark.parametrize("status", ["requested", "accepted", "in-progress", "on-hold", "completed"])
def test_a_task_that_someone_took_further_is_left_alone_and_the_change_is_said(status):
    earlier = sent_back(first_plan(), harvest_skin=status)
    harvest = task_of(earlier, "harvest-skin")
    again = plan_again(earlier, events=CHANGED)
    assert f"Task/{harvest.id}" not in puts(again)
    assert {"reference": f"Task/{harvest.id}"} in [
        a["reference"] for a in again["entry"][0]["resource"]["activity"]]
    (issue,) = issues(again)
    assert issue["implicated"] == [{"reference": f"Task/{harvest.id}"}]
    assert status in issue["detail"] and "changed" in issue["detail"]


def test_in_progress_and_unchanged_is_nothing_to_say():
    earlier = sent_back(first_plan(), harvest_skin="accepted")
    again = plan_again(earlier)
    assert issues(again) == []
    assert f"Task/{task_of(earlier, 'harvest-skin').id}" not in puts(again)


def test_notes_of_a_task_are_no_change_of_what_people_are_asked_to_do():
    earlier = sent_back(first_plan(), harvest_skin="accepted")
    told = plan_again(earlier, made=plan(method_changes=(), skin_prices=()))
    before = task_of(earlier, "harvest-skin").resource
    (after,) = coded(write_plan_bundle(answer(plan(skin_prices=())), read_result(), SETTINGS), "Task", "harvest-skin")
    assert before["note"] != after["note"]
    assert issues(told) == []


def test_a_draft_that_the_plan_no_longer_holds_is_withdrawn_not_deleted():
    earlier = sent_back(first_plan())
    review = task_of(earlier, "review-plan")
    again = plan_again(earlier, events=CHANGED)
    assert puts(again)[f"Task/{review.id}"] == review.resource | {"status": "cancelled"}
    assert {e["request"]["method"] for e in again["entry"]} == {"PUT"}


def test_a_request_and_a_finding_that_no_longer_hold_are_withdrawn():
    earlier = sent_back(first_plan())
    again = puts(plan_again(earlier, events=CHANGED, findings=FINDINGS[1:]))
    withdrawn = {
        resource["resourceType"]: resource["status"] for resource in again.values()
        if resource["status"] not in ("draft", "preliminary")}
    assert withdrawn == {"Task": "cancelled", "ServiceRequest": "revoked", "DetectedIssue": "cancelled"}


def test_an_accepted_task_that_the_plan_no_longer_holds_is_left_alone_and_said():
    earlier = sent_back(first_plan(), review_plan="accepted")
    again = plan_again(earlier, events=CHANGED)
    assert f"Task/{task_of(earlier, 'review-plan').id}" not in puts(again)
    (issue,) = issues(again)
    assert "no longer there" in issue["detail"]


def test_a_closed_task_that_the_plan_no_longer_holds_is_of_the_past():
    assert issues(plan_again(sent_back(first_plan(), review_plan="completed"), events=CHANGED)) == []


def test_without_its_version_nothing_is_updated():
    earlier = [replace(one, version_id=None) for one in sent_back(first_plan())]
    assert puts(plan_again(earlier, events=CHANGED)) == {}


def test_what_was_planned_for_another_patient_is_not_touched():
    earlier = [
        replace(one, identifier_value=f"other/{one.identifier_value}") for one in sent_back(first_plan())]
    assert puts(plan_again(earlier)) == {}


def test_a_task_that_is_there_is_updated_also_when_its_day_has_moved_far_ahead():
    earlier = sent_back(first_plan())
    far = tuple(replace(e, day=40, earliest_day=40, latest_day=41) if e is EVENTS[-1] else e for e in EVENTS)
    updated = puts(plan_again(earlier, events=far))[f"Task/{task_of(earlier, 'review-plan').id}"]
    assert (updated["status"], updated["restriction"]["period"]["end"]) == ("draft", "2026-04-12")


def test_the_collection_says_it_too():
    earlier = sent_back(first_plan(), harvest_skin="accepted")
    again = plan_again(earlier, events=CHANGED, answer="collection")
    (issue,) = issues(again)
    assert issue["implicated"][0]["reference"].startswith(f"{SERVER}/Task/")
    assert not any("request" in entry for entry in again["entry"])


def test_an_issue_that_was_raised_before_is_the_same_issue():
    earlier = sent_back(first_plan(), harvest_skin="accepted")
    (first,) = issues(plan_again(earlier, events=CHANGED))
    (second,) = issues(plan_again(earlier, events=CHANGED, findings=FINDINGS[1:]))
    assert first["identifier"] == second["identifier"]


def test_the_text_answer_can_say_what_is_in_progress_too():
    earlier = sent_back(first_plan(), harvest_skin="accepted")
    read = replace(read_result(earlier=tuple(earlier)), sources=read_result().sources | {
        one.key: SourceRef(one.resource_type, f"{SERVER}/{one.resource_type}/{one.id}", one.id, None, one.resource_type)
        for one in earlier})
    told = find_changes_in_progress(answer(events=CHANGED), read, SETTINGS.canonical_base)
    assert [(finding.code, dict(finding.values)["status"]) for finding in told] == [(IN_PROGRESS, "accepted")]
    assert find_changes_in_progress(answer(), read_result(), SETTINGS.canonical_base) == ()

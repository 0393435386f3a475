"""Planned, kept by a server of record, planned again: what changed in record and plan is said, with its cause."""

from copy import deepcopy
from datetime import date, timedelta
from decimal import Decimal

import pytest

from service.domain.plan_difference import Obstacle
from service.settings import Settings
from service.wiring import PlanReply, answer_plan_request, build_parts
from tests.builders import SERVER, Resource, body_of, loaded
from tests.conftest import SAMPLES
from tests.roundtrip.recorded_session import (
    append,
    append_entries,
    bundle_of,
    carry_out,
    code_of,
    move_on,
    read_next_session,
    split_by_place,
    write_session,
)

PARTS = build_parts(Settings())
KEPT = ("CarePlan", "Task", "ServiceRequest")
LATE_HEALING = "right thigh, front was recorded as still healing on 2026-03-20 Fri"


def sample(name: str) -> Resource:
    return loaded((SAMPLES / f"{name}.json").read_bytes())


def plan(request: Resource) -> PlanReply:
    return answer_plan_request(PARTS, body_of(request))


def kept(reply: PlanReply, *types: str) -> list[Resource]:
    """Entries of an answer as a server of record gives them back."""
    entries = []
    for number, entry in enumerate(deepcopy(reply.resource["entry"])):
        resource = entry["resource"] | {"id": f"k{number}", "meta": {"versionId": "1"}}
        if resource["resourceType"] in (types or KEPT):
            entries.append({"fullUrl": f"{SERVER}/{resource['resourceType']}/k{number}", "resource": resource})
    return entries


def text_of(reply: PlanReply) -> str:
    return " ".join(reply.text.split())


def issue_of(reply: PlanReply) -> str | None:
    found = [e["resource"]["detail"] for e in reply.resource["entry"]
             if e["resource"]["resourceType"] == "DetectedIssue" and code_of(e["resource"]) == "plan-changed"]
    return found[0] if found else None


def without_states(request: Resource, state: str) -> Resource:
    less = deepcopy(request)
    record = bundle_of(less)
    record["entry"] = [
        e for e in record["entry"] if e["resource"].get("valueCodeableConcept", {}).get("coding", [{}])[0].get(
            "code") != state]
    return less


@pytest.fixture(scope="module")
def late_healing() -> PlanReply:
    return plan(sample("replanned-donor-still-healing"))


def test_a_session_moves_because_a_donor_site_was_recorded_as_still_healing(late_healing):
    said = "The session of 2026-03-21 Sat moves to 2026-03-24 Tue"
    for text in (text_of(late_healing), issue_of(late_healing)):
        assert said in text and LATE_HEALING in text
        assert text.index(said) < text.rindex(LATE_HEALING)


def test_the_care_plan_tells_it_in_its_narrative_once(late_healing):
    narrative = late_healing.resource["entry"][0]["resource"]["text"]["div"]
    assert "Since the plan before:" in narrative
    assert narrative.count("moves to 2026-03-28 Sat") == 1


def test_the_draft_tasks_follow(late_healing):
    request = sample("replanned-donor-still-healing")
    request["parameter"].insert(0, {"name": "answer", "valueCode": "transaction"})
    moved = [e["resource"] for e in plan(request).resource["entry"]
             if e["request"]["method"] == "PUT" and e["resource"]["resourceType"] == "ServiceRequest"
             and code_of(e["resource"]) == "theatre-session"]
    assert [r["occurrenceDateTime"] for r in moved] == ["2026-03-24", "2026-03-28"]


def test_without_the_statement_the_plan_is_as_it_was():
    reply = plan(without_states(sample("replanned-donor-still-healing"), "healing"))
    assert reply.answer.difference.changes == ()
    assert issue_of(reply) is None
    assert "The plan is as it was for what is still to come." in text_of(reply)


def test_without_a_plan_before_nothing_is_compared():
    assert "Since the plan before" not in plan(sample("hands-and-face-12-percent")).text


def test_tasks_alone_are_enough():
    request = sample("hands-and-face-12-percent")
    first = plan(request)
    again = plan(append_entries(request, kept(first, "Task")))
    assert [s.day for s in again.answer.difference.earlier.outline.sessions] == [date(2026, 3, 6), date(2026, 3, 12)]
    assert again.answer.difference.changes == ()


def test_what_was_planned_for_another_patient_is_not_compared():
    request = sample("hands-and-face-12-percent")
    other = kept(plan(request))
    for entry in other:
        entry["resource"]["identifier"][0]["value"] = f"other/{entry['resource']['identifier'][0]['value']}"
    assert plan(append_entries(request, other)).answer.difference is None


def test_a_session_carried_out_as_planned_changes_nothing():
    request = sample("hands-and-face-12-percent")
    first = plan(request)
    again = plan(append_entries(carry_out(request, first, PARTS.evidence), kept(first)))
    assert again.answer.difference.changes == ()
    assert again.answer.difference.recorded == ()


def test_a_day_without_theatre_and_what_was_asked_for_before():
    request = sample("hands-and-face-12-percent")
    again = append_entries(request, kept(plan(request)))
    first_day = next(p for p in again["parameter"] if p["name"] == "theatre-day")
    again["parameter"].remove(first_day)
    text = text_of(plan(again))
    assert "The session of 2026-03-06 Fri moves to 2026-03-10 Tue: theatre is not stated for that day." in text
    assert "The request asks otherwise. Before: Theatre only on: 2026-03-06 Fri" in text


def test_a_session_that_was_not_held_shifts_the_others_and_no_more_is_claimed():
    request = sample("adult-60-percent-first-plan")
    first = plan(request)
    missed = read_next_session(first.resource).day
    reply = plan(move_on(append_entries(request, kept(first)), missed + timedelta(days=1), Decimal(0)))
    changes = reply.answer.difference.changes
    assert {c.causes for c in changes if c.earlier_day == missed and c.kind in ("moved", "dropped")} == {
        (Obstacle.DAY_PASSED,)}
    assert {c.causes for c in changes if c.kind in ("moved", "dropped") and c.earlier_day > reply.answer.case.day_zero
            } <= {()}
    assert "no session is recorded on that day" in text_of(reply)
    assert "Nothing new is recorded since." in text_of(reply)


def test_less_grafted_than_planned_is_said():
    request = sample("hands-and-face-12-percent")
    first = plan(request)
    day = read_next_session(first.resource).day
    done = split_by_place(first, day)
    largest = max(done.placed, key=done.placed.get)
    done.placed[largest] /= 2
    later = append(move_on(request, day + timedelta(days=1), done.cover_used_cm2),
                   write_session(done, PARTS.evidence), "less")
    difference = plan(append_entries(later, kept(first))).answer.difference
    (recorded,) = difference.recorded
    assert (recorded.kind, recorded.place) == ("done-otherwise", largest[0].key)
    assert (recorded,) in {change.causes for change in difference.changes}

"""Calls from the record and what readers make of their cards leave rows in the audit trail."""

from dataclasses import replace
from hashlib import sha256
from uuid import uuid4

from service.fhir.json_text import dump
from service.replay import replay
from service.settings import Settings
from tests.cds_hooks.conftest import Record
from tests.cds_hooks.hook_calls import PATH


def rows(record):
    return list(record.http.app.state.parts.storage.trail.rows())


def test_a_card_leaves_the_row_of_its_plan_and_its_own(record, due_call):
    answer = record.post(due_call)
    (card,) = answer.json()["cards"]
    plan_row, card_row = rows(record)
    assert plan_row.operation == PATH.rsplit("/", 1)[1]
    assert plan_row.outcome in {"optimal", "best_found", "rule_of_thumb"}
    assert plan_row.plan_id
    assert (card_row.outcome, card_row.card_id) == ("card", card["uuid"])
    assert card_row.input_sha256 == sha256(dump(due_call)).hexdigest()
    assert card_row.answer_sha256 == sha256(answer.content).hexdigest()


def test_a_call_without_a_burn_leaves_one_row(record, due_call):
    due_call["prefetch"] |= {"conditions": None, "wounds": None}
    assert record.cards(due_call) == []
    assert [row.outcome for row in rows(record)] == ["no-card"]


def test_a_refused_call_leaves_its_row(record, due_call):
    due_call["prefetch"]["patient"] = None
    assert record.post(due_call).status_code == 412
    *_, row = rows(record)
    assert row.outcome == "refused-412" and row.detail
    assert row.input_sha256 == sha256(dump(due_call)).hexdigest()


def test_an_override_leaves_its_row_and_an_unknown_card_leaves_no_text(record, due_call):
    card = record.cards(due_call)[0]["uuid"]
    for card_id in (card, str(uuid4())):
        record.post({"feedback": [{
            "card": card_id, "outcome": "overridden", "outcomeTimestamp": "2026-03-12T12:30:00Z",
            "overrideReason": {"reason": {"code": "other", "system": "https://x.example"},
                               "userComment": "Anna Muster is too ill"}}]}, f"{PATH}/feedback")
    overridden, unknown = rows(record)[2:]
    assert (overridden.operation, overridden.outcome, overridden.card_id) == ("graft-plan-feedback", "overridden", card)
    assert (unknown.outcome, unknown.card_id) == ("unknown-card", None)
    assert "Muster" not in repr((overridden, unknown))


def test_the_plan_behind_a_card_can_be_made_again_while_its_request_is_kept(due_call):
    record = Record(Settings(database="memory", keep_plan_hours=1))
    record.post(due_call)
    parts = record.http.app.state.parts
    report = replay(replace(parts, storage=None), parts.storage, rows(record)[0].plan_id, None)
    assert report.same, report.lines

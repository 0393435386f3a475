"""The same situation is told once, until something changes."""

from copy import deepcopy
from threading import Thread
from uuid import uuid4

import httpx2 as httpx

from service.fhir.json_text import dump
from service.settings import Settings
from tests.builders import Resource
from tests.cds_hooks.conftest import JSON, sample
from tests.cds_hooks.hook_calls import PATH, hook_call
from tests.conftest import serve


def opened(call: Resource) -> Resource:
    """The same record opened once more."""
    return deepcopy(call) | {"hookInstance": str(uuid4())}


def on_day(request: Resource, day: str) -> Resource:
    later = deepcopy(request)
    for parameter in later["parameter"]:
        if parameter["name"] == "as-of":
            parameter["valueInstant"] = f"{day}T12:00:00+01:00"
    return later


def with_units(request: Resource, count: int) -> Resource:
    """The same with so many red-cell units at hand."""
    changed = deepcopy(request)
    next(p for p in changed["parameter"] if p["name"] == "transfusion-units")["valueInteger"] = count
    return changed


def test_the_same_record_opened_again_gets_no_card(record, due_call):
    assert len(record.cards(due_call)) == 1
    assert [record.cards(opened(due_call)) for _ in range(3)] == [[]] * 3


def test_the_same_call_sent_again_gets_the_same_card(record, due_call):
    assert record.cards(due_call) == record.cards(due_call) != []


def test_another_patient_and_another_record_are_told_for_themselves(record, due_call):
    record.cards(due_call)
    elsewhere = opened(due_call) | {"fhirServer": "https://other.example/fhir"}
    assert len(record.cards(elsewhere)) == 1


def test_a_session_put_off_to_the_next_day_is_not_told_again(record):
    """Nothing was done and the plan is the same, a day later."""
    asked = sample("obese-40-percent")
    (first,) = record.cards(hook_call(asked))
    later = record.cards(opened(hook_call(on_day(asked, "2026-03-12"))))
    assert "Session on 2026-03-12" in first["summary"]
    assert all("Session" not in card["summary"] for card in later)


def test_a_session_whose_harvest_has_changed_much_is_told_again(record, due_request):
    record.cards(hook_call(due_request))
    (again,) = record.cards(opened(hook_call(with_units(due_request, 1))))
    assert "Session on" in again["summary"]
    assert record.cards(opened(hook_call(with_units(due_request, 1)))) == []


def test_of_many_calls_at_once_to_a_real_server_one_gets_the_card(due_call):
    calls, answers = [dump(opened(due_call)) for _ in range(6)], []

    def call(body: bytes) -> None:
        answer = http.post(f"{address}{PATH}", content=body, headers=JSON)
        answers.append((answer.status_code, len(answer.json()["cards"])))

    with serve(Settings(database="memory")) as address, httpx.Client(timeout=30, trust_env=False) as http:
        assert http.get(f"{address}/cds-services").json()["services"]
        threads = [Thread(target=call, args=(body,)) for body in calls]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert sorted(answers) == [(200, 0)] * 5 + [(200, 1)]


def test_what_is_wrong_is_told_once(record, due_call):
    due_call["prefetch"]["patient"]["id"] = "somebody-else"
    assert len(record.cards(due_call)) == 1
    assert record.cards(opened(due_call)) == []

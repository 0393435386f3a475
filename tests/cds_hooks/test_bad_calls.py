"""Broken calls: the right status, an OperationOutcome, and nothing of the patient in it."""

import json
from copy import deepcopy

import pytest

from service.fhir.json_text import dump
from tests.cds_hooks.conftest import JSON
from tests.cds_hooks.hook_calls import PATH

PLANTED = "planted-patient"


@pytest.fixture
def planted_call(due_call):
    """A call whose patient can be recognised anywhere."""
    return json.loads(dump(due_call).replace(due_call["context"]["patientId"].encode(), PLANTED.encode()))


BROKEN = {
    "context is a text": (lambda call: call | {"context": PLANTED}, 400),
    "context without a patient": (lambda call: call | {"context": {"userId": "Practitioner/1"}}, 400),
    "patient is a number": (lambda call: call | {"context": {"userId": "Practitioner/1", "patientId": 17}}, 400),
    "prefetch is a list": (lambda call: call | {"prefetch": [PLANTED]}, 400),
    "prefetch of texts": (lambda call: call | {"prefetch": {"patient": PLANTED}}, 400),
    "prefetch key of anything": (lambda call: call | {"prefetch": {PLANTED: PLANTED}}, 400),
    "extension is a text": (lambda call: call | {"extension": PLANTED}, 400),
    "a bundle among the parameters": (
        lambda call: call | {"extension": {"example.graftstage.parameters": [{"name": "bundle"}]}}, 400),
    "authorization is a text": (lambda call: call | {"fhirAuthorization": PLANTED}, 400),
    "prefetch is null": (lambda call: call | {"prefetch": None}, 412),
    "no prefetch": (lambda call: {k: v for k, v in call.items() if k != "prefetch"}, 412),
    "no patient": (lambda call: call | {"prefetch": call["prefetch"] | {"patient": None}}, 412),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_call_is_refused_without_a_word_of_the_patient(record, planted_call, name):
    change, status = BROKEN[name]
    answer = record.post(change(deepcopy(planted_call)))
    assert answer.status_code == status
    assert answer.json()["resourceType"] == "OperationOutcome"
    assert PLANTED not in answer.text


@pytest.mark.parametrize(("body", "status"), [
    (b"", 400), (b"null", 400), (b"[]", 400), (b"{", 400), (b'{"hook": NaN}', 400), (b'{"hook":"a","hook":"b"}', 400),
    (b"[" * 5_000, 400), (b'{"a":"' + b"x" * 9_000_000 + b'"}', 413)])
def test_a_body_that_is_no_call_is_refused(record, body, status):
    answer = record.http.post(PATH, content=body, headers=JSON)
    assert answer.status_code == status and answer.json()["resourceType"] == "OperationOutcome"


@pytest.mark.parametrize("change", [
    lambda prefetch: prefetch["patient"].update(id="another"),
    lambda prefetch: prefetch["wounds"]["entry"][0]["resource"].update(subject={"reference": "Patient/another"}),
    lambda prefetch: prefetch["wounds"]["entry"][0].update(resource=None),
    lambda prefetch: prefetch["wounds"]["entry"][0].update(resource=7),
    lambda prefetch: prefetch["wounds"]["entry"].append(PLANTED),
])
def test_a_wrong_record_is_a_warning_card_without_a_word_of_the_patient(record, planted_call, change):
    change(planted_call["prefetch"])
    (card,) = record.cards(planted_call)
    assert card["indicator"] == "warning" and card["summary"].startswith("No plan: ")
    assert PLANTED not in json.dumps(card)


def test_another_form_than_json_is_not_acceptable(record, planted_call):
    answer = record.http.post(PATH, content=dump(planted_call), headers=JSON | {"Accept": "application/xml"})
    assert answer.status_code == 406

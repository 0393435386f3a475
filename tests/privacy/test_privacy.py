"""Names, addresses, ids and notes of a record leave in no log line and in no error; and the watch would see it."""

from __future__ import annotations

import logging

import pytest

from tests import builders as make
from tests.conftest import SAMPLES
from tests.privacy.watch import PrivacyWatch, planted_texts

PLAN, READ = "/fhir/$plan-grafts", "/fhir/$read-burn-record"
FHIR = {"Content-Type": "application/fhir+json"}
TELLING = {
    "name": [{"family": "Planted-family", "given": ["Planted-given"]}],
    "telecom": [{"system": "phone", "value": "planted-phone"}],
    "address": [{"line": ["planted-street"], "city": "planted-city"}],
    "contact": [{"name": {"text": "planted-contact"}}],
    "text": {"status": "generated", "div": '<div xmlns="http://www.w3.org/1999/xhtml">planted-narrative</div>'},
}
SPOKEN = {"note": [{"text": "planted-note"}], "performer": [{"display": "planted-performer"}]}


def record_of_a_named_patient(**wound: object) -> bytes:
    needed = make.needed()
    needed[0] = make.patient(**TELLING)
    return make.body_of(make.parameters(make.bundle(*needed, make.burn_wound() | SPOKEN | wound)))


WHOLE = record_of_a_named_patient()
WRONG = record_of_a_named_patient(bodySite=make.local("planted-region"), status="planted-status")


@pytest.mark.parametrize(("path", "body", "status"), [
    (PLAN, WHOLE, 200), (PLAN, WRONG, 400), (READ, WHOLE, 200), (READ, WRONG, 200),
    (f"{PLAN}?planted-query=1", WHOLE, 200), ("/fhir/planted-path", WHOLE, 404),
])
@pytest.mark.parametrize("form", ["application/fhir+json", "text/plain"])
def test_what_names_a_patient_stays_inside(client, caplog, path, body, status, form):
    with caplog.at_level(logging.DEBUG, "graftstage"):
        answer = client.post(path, content=body, headers=FHIR | {"Accept": form})
    assert answer.status_code == status
    assert "planted" not in answer.text.lower()
    assert "planted" not in caplog.text.lower()


def test_the_watch_is_kept_and_would_see(privacy_watch):
    assert isinstance(privacy_watch, PrivacyWatch)
    assert privacy_watch in logging.getLogger().handlers
    own = PrivacyWatch(planted_texts(SAMPLES))
    logger = logging.Logger("apart")
    logger.addHandler(own)
    logger.info("a plan was made")
    assert own.told == [] and own.looked_at_count == 1
    logger.warning("for %s", make.patient()["identifier"][0]["value"])
    own.dump({"entry": [{"resource": {"resourceType": "OperationOutcome", "text": "Planted"}}]})
    assert len(own.told) == 2


def test_every_sample_gives_the_watch_something_to_look_for():
    assert len(planted_texts(SAMPLES)) > 3 * len(list(SAMPLES.glob("*.json")))

"""Records that nobody made for this service are answered or refused with a place, in time; never a fault of ours."""

from __future__ import annotations

import json
from time import perf_counter

import pytest

from tests import builders as make
from tests.foreign.carebundle_records import carebundle_records
from tests.foreign.clinosim_records import clinosim_records
from tests.foreign.own_records import own_records

PLAN, READ = "/fhir/$plan-grafts", "/fhir/$read-burn-record"
FHIR = {"Content-Type": "application/fhir+json"}
MOST_SECONDS = 30  # on a machine that does other things
FEWEST = 40
#: Of our own making, those that hold a whole record in a shape that must not stop it.
PLANNED = (
    "STU3 type", "R5 type", "R4B", "extensions everywhere", "relative references, no addresses", "UUIDs",
    "references by identifier", "versioned references", "transaction", "batch", "page of a search",
    "thousands of other entries", "thousands of unused types")


@pytest.fixture(scope="module")
def foreign_records(tmp_path_factory) -> dict[str, dict]:
    return carebundle_records() | clinosim_records(tmp_path_factory.mktemp("clinosim")) | own_records()


def as_of_then(bundle: dict) -> bytes:
    """A Bundle as of the time of the records."""
    return json.dumps(make.parameters(bundle)).encode()


def test_each_is_answered_or_refused_with_a_place(client, foreign_records):
    assert len(foreign_records) >= FEWEST
    for name, bundle in foreign_records.items():
        started = perf_counter()
        answer = client.post(PLAN, content=as_of_then(bundle), headers=FHIR)
        assert perf_counter() - started < MOST_SECONDS, name
        assert answer.status_code in (200, 400, 413, 422), name
        if answer.status_code != 200:
            assert all(issue["expression"] for issue in answer.json()["issue"]), name


@pytest.mark.parametrize("name", own_records())
def test_each_is_read_or_refused_with_a_place(client, name):
    answer = client.post(READ, content=as_of_then(own_records()[name]), headers=FHIR)
    assert answer.status_code in (200, 422)
    assert answer.status_code == 200 or all(issue["expression"] for issue in answer.json()["issue"])


@pytest.mark.parametrize("name", PLANNED)
def test_a_whole_record_in_another_shape_is_planned(client, name):
    answer = client.post(PLAN, content=as_of_then(own_records()[name]), headers=FHIR)
    assert answer.status_code == 200
    assert any(entry["resource"]["resourceType"] == "CarePlan" for entry in answer.json()["entry"])


def test_a_burn_in_the_record_of_another_maker_is_planned(client, foreign_records):
    for name in ("carebundle visit healthy", "carebundle history anaemia"):
        bundle = foreign_records[name]
        patient = next(e for e in bundle["entry"] if e["resource"]["resourceType"] == "Patient")
        about = {"subject": {"reference": patient["fullUrl"]}}
        ours = [one | about for one in (*make.needed()[1:], make.burn_wound(percent="3"))]
        record = bundle | {"entry": [*bundle["entry"], *({"resource": one} for one in ours)]}
        answer = client.post(PLAN, content=make.body_of(make.parameters(record)), headers=FHIR)
        assert answer.status_code == 200, answer.text
        assert any(entry["resource"]["resourceType"] == "CarePlan" for entry in answer.json()["entry"])

"""The PlanDefinition says what is served: the operation, what it needs, every event it may propose."""

import pytest

from service.domain.dressing import EventKind
from service.fhir.conformance_resources import write_structure_definitions
from service.fhir.write_operation_definition import PLAN_GRAFTS, canonical_of
from service.fhir.write_plan import write_plan_bundle
from service.fhir.write_plan_definition import write_plan_definition
from tests.unit.fhir_out.answers import BASE, SETTINGS, answer, read_result


@pytest.fixture(scope="module")
def action():
    (only,) = write_plan_definition(BASE, "1")["action"]
    return only


def test_it_depends_on_the_operation_that_does_it():
    related = write_plan_definition(BASE, "1")["relatedArtifact"]
    assert related == [{"type": "depends-on", "resource": canonical_of(BASE, PLAN_GRAFTS)}]


def test_it_needs_the_profiles_that_are_served(action):
    served = {profile["url"] for profile in write_structure_definitions(BASE, "1")}
    needed = {url for one in action["input"] for url in one.get("profile", ())}
    assert needed <= served
    assert {url.rsplit("/", 1)[1] for url in needed} >= {"weight", "height", "haemoglobin", "burn-extent"}
    assert {"type": "Patient"} in action["input"]


def test_it_gives_what_a_transaction_posts(action):
    posted = write_plan_bundle(answer(answer="transaction"), read_result(), SETTINGS)
    assert {one["type"] for one in action["output"]} == {e["resource"]["resourceType"] for e in posted["entry"]}


def test_it_names_every_kind_of_event_once(action):
    named = [one["code"][0]["coding"][0]["code"] for one in action["action"]]
    assert sorted(named) == sorted(EventKind)

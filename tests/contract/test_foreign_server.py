"""The answer, posted into a FHIR server of another make, and the plan made again from what it stores.

The server answers a Bundle of type ``transaction`` entry by entry, so every status is looked at.
"""

import json
from collections import Counter
from collections.abc import Iterator
from copy import deepcopy

import httpx2 as httpx
import pytest

from service.domain.done_session import DoneKind, DoneSession
from service.fhir.json_text import dump, read_json
from service.fhir.write_done_session import write_done_session
from service.settings import Settings
from service.sheet.done_form import read_done_form
from service.sheet.theatre_list_page import done_fields
from service.wiring import PlanReply, answer_plan_request, build_parts
from tests.builders import body_of
from tests.conftest import SAMPLES
from tests.contract.validators import require_validators, run_store
from tests.unit.fhir_out.bundles import references

SAMPLE = SAMPLES / "hands-and-face-12-percent.json"
POSTED = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue")
FHIR = {"Content-Type": "application/fhir+json"}
PARTS = build_parts(Settings())


class Store:
    """The other server, as a caller uses it."""

    def __init__(self, address: str) -> None:
        self.http = httpx.Client(base_url=address, timeout=60, trust_env=False)

    def post(self, bundle: dict) -> Counter:
        """Statuses of the entries of one Bundle."""
        answer = self.http.post("/", content=dump(bundle), headers=FHIR).json()
        return Counter(entry["response"]["status"] for entry in answer["entry"])

    def stored(self) -> list[dict]:
        """Everything of a plan that is stored, as entries."""
        return [
            {"fullUrl": f"https://record.example/fhir/{resource_type}/{entry['resource']['id']}",
             "resource": entry["resource"]}
            for resource_type in POSTED
            for entry in read_json(self.http.get(f"/{resource_type}?_count=1000").content).get("entry", ())
        ]

    def of_type(self, resource_type: str) -> list[dict]:
        return [e["resource"] for e in self.stored() if e["resource"]["resourceType"] == resource_type]

    def task(self, code: str) -> dict:
        return next(t for t in self.of_type("Task") if t["code"]["coding"][0]["code"] == code)

    def set_status(self, task: dict, status: str) -> None:
        changed = dump(task | {"status": status})
        assert self.http.put(f"/Task/{task['id']}", content=changed, headers=FHIR).status_code == 200


@pytest.fixture(scope="module")
def store_address() -> Iterator[str]:
    require_validators()
    with run_store() as address:
        yield address


@pytest.fixture
def store(store_address) -> Store:
    """The other server, emptied."""
    emptied = Store(store_address)
    assert emptied.http.delete("/").status_code == 204
    return emptied


def plan(*sent_back: dict, without_days: int = 0) -> dict:
    """The answer to the sample for posting; ``without_days``: that many theatre days fewer."""
    request = json.loads(SAMPLE.read_bytes())
    days = [p for p in request["parameter"] if p["name"] == "theatre-day"]
    parameters = [p for p in request["parameter"] if p not in days[:without_days]]
    request["parameter"] = [*parameters, {"name": "answer", "valueCode": "transaction"}]
    record = next(p for p in request["parameter"] if p["name"] == "bundle")["resource"]
    record["entry"] += sent_back
    return answer_plan_request(PARTS, body_of(request)).resource


def identifiers(resources: list[dict]) -> list[str]:
    return sorted(r["identifier"][0]["value"] for r in resources)


def test_every_resource_lands_and_every_reference_resolves(store):
    answer = plan()
    assert store.post(answer) == {"201": len(answer["entry"])}
    stored = [entry["resource"] for entry in store.stored()]
    assert identifiers(stored) == identifiers([entry["resource"] for entry in answer["entry"]])
    there = {f"{r['resourceType']}/{r['id']}" for r in stored}
    pointed = {text for resource in stored for text in references(resource)}
    assert pointed & there
    assert {text.split("/")[0] for text in pointed - there} <= {"Patient", "Observation", "Condition", "Procedure"}


def test_nothing_is_lost_or_changed_on_the_way(store):
    answer = plan()
    store.post(answer)
    sent = {e["resource"]["identifier"][0]["value"]: e["resource"] for e in answer["entry"]}
    for entry in store.stored():
        stored, before = deepcopy(entry["resource"]), sent[entry["resource"]["identifier"][0]["value"]]
        for name, value in before.items():
            if not list(references({name: value})):
                assert stored[name] == value, name


def test_posting_twice_creates_nothing_twice(store):
    answer = plan()
    store.post(answer)
    before = store.stored()
    assert store.post(plan()) == {"200": len(answer["entry"])}
    assert store.stored() == before


def test_a_plan_made_again_updates_the_drafts(store):
    store.post(plan())
    before = store.task("harvest-skin")
    again = plan(*store.stored(), without_days=1)
    assert set(store.post(again)) <= {"200", "201"}
    after = store.task("harvest-skin")
    assert after["id"] == before["id"]
    assert after["restriction"]["period"]["start"] > before["restriction"]["period"]["start"]
    assert len(store.of_type("CarePlan")) == 1
    drafts = set(identifiers([t for t in store.of_type("Task") if t["status"] == "draft"]))
    held = {e["resource"]["identifier"][0]["value"] for e in again["entry"]
            if e["resource"]["resourceType"] == "Task" and e["resource"]["status"] == "draft"}
    assert drafts == held


def test_an_update_of_what_somebody_changed_meanwhile_fails(store):
    store.post(plan())
    again = plan(*store.stored(), without_days=1)
    store.set_status(store.task("harvest-skin"), "accepted")
    assert store.post(again)["412"] == 1
    assert store.task("harvest-skin")["status"] == "accepted"


def test_a_task_that_someone_accepted_is_left_alone_and_the_change_is_said(store):
    store.post(plan())
    store.set_status(store.task("harvest-skin"), "accepted")
    accepted = store.task("harvest-skin")
    store.post(plan(*store.stored(), without_days=1))
    assert store.task("harvest-skin") == accepted
    (issue,) = [i for i in store.of_type("DetectedIssue")
                if i["code"]["coding"][0]["code"] == "plan-changed-task-in-progress"]
    assert issue["implicated"] == [{"reference": f"Task/{accepted['id']}"}]


def test_what_the_plan_no_longer_holds_is_withdrawn(store):
    store.post(plan())
    invented = deepcopy(store.task("review-plan"))
    invented["identifier"][0]["value"] += "0"
    created = store.http.post("/Task", content=dump({k: v for k, v in invented.items() if k != "id"}), headers=FHIR)
    assert created.status_code == 201
    store.post(plan(*store.stored()))
    statuses = {t["id"]: t["status"] for t in store.of_type("Task")}
    assert statuses[created.json()["id"]] == "cancelled"
    assert Counter(statuses.values())["cancelled"] == 1


def planned_request(*entries: dict, as_of: str | None = None) -> bytes:
    """The sample for posting, with entries beside its own and a later moment."""
    request = json.loads(SAMPLE.read_bytes())
    record = next(p for p in request["parameter"] if p["name"] == "bundle")["resource"]
    record["entry"] += entries
    kept = [p for p in request["parameter"] if p["name"] not in ("as-of", "theatre-day") or not as_of]
    moment = [{"name": "as-of", "valueInstant": as_of}] if as_of else []
    request["parameter"] = [*kept, *moment, {"name": "answer", "valueCode": "transaction"}]
    return body_of(request)


def record_session(store: Store, reply: PlanReply) -> DoneSession:
    """Somebody notes the first session as planned, in the record of the other server."""
    session = reply.answer.plan.settled.firm_sessions[0]
    fields = {field.name: field.planned.removesuffix(" cm²").replace(",", "")
              for field in done_fields(reply.answer, session)}
    done = read_done_form(fields, reply.answer.case.date_of(session.day))
    record = next(p for p in json.loads(SAMPLE.read_bytes())["parameter"] if p["name"] == "bundle")["resource"]
    patient = next(e for e in record["entry"] if e["resource"]["resourceType"] == "Patient")
    store.post(write_done_session(done, {"reference": patient["fullUrl"]}, PARTS.settings.canonical_base))
    return done


def read_back(store: Store, *types: str) -> list[dict]:
    return [
        {"fullUrl": f"https://record.example/fhir/{kind}/{e['resource']['id']}", "resource": e["resource"]}
        for kind in types
        for e in read_json(store.http.get(f"/{kind}?_count=1000").content).get("entry", ())]


def test_the_plan_and_the_session_read_back_from_the_server_make_the_next_plan(store):
    """The whole circle: plan, store, operate, record there, read everything back, plan again, store again."""
    first = answer_plan_request(PARTS, planned_request())
    store.post(first.resource)
    done = record_session(store, first)
    evening = f"{done.day}T20:00:00+01:00"
    entries = [*store.stored(), *read_back(store, "Procedure", "Observation")]
    again = answer_plan_request(PARTS, planned_request(*entries, as_of=evening))
    assert {aside.reason for aside in again.read.set_aside} == {"own-answer"}  # the plan is never read as history

    record = again.answer.case.record
    assert {(h.place, h.area_cm2) for h in record.harvests} == {
        (act.place, act.area_cm2) for act in done.acts if act.kind is DoneKind.HARVEST}
    assert {(p.place, p.area_cm2, p.method) for p in record.placements} == {
        (act.place, act.area_cm2, act.method) for act in done.acts if act.kind is DoneKind.PLACEMENT}
    assert {(e.place, e.area_cm2) for e in record.excisions} == {
        (act.place, act.area_cm2) for act in done.acts if act.kind is DoneKind.EXCISION}

    grafted = sum(act.area_cm2 for act in done.acts if act.kind is DoneKind.PLACEMENT)
    open_before = sum(w.area_cm2 for w in first.answer.case.wounds)
    open_now = sum(w.area_cm2 for w in again.answer.case.wounds)
    assert abs(open_before - grafted - open_now) <= len(done.acts)  # printed areas are rounded up
    assert all(again.answer.case.date_of(s.day) > done.day for s in again.answer.plan.settled.sessions)

    assert set(store.post(again.resource)) <= {"200", "201"}
    assert len(store.of_type("CarePlan")) == 1
    dates = {t["restriction"]["period"]["end"] for t in store.of_type("Task") if t["status"] == "draft"}
    assert min(dates) >= str(done.day)
